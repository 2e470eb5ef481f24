//! Grid convergence and point scale factor: the one call of PROJ that its safe wrapper lacks.
#![allow(unsafe_code)]

use super::database;
use proj_sys as sys;
use spatial::frame::{Factors, LonLat};
use std::ffi::CString;
use std::os::unix::ffi::OsStrExt;

/// What the projected CRS `EPSG:code` does at a place; `None` where PROJ cannot tell.
pub(super) fn factors(code: u32, at: LonLat) -> Option<Factors> {
    let folder = CString::new(database::folder().ok()?.as_os_str().as_bytes()).ok()?;
    let definition = CString::new(format!("EPSG:{code}")).ok()?;
    // SAFETY: the context and the object are made here, used on this thread alone, and destroyed
    // before the function returns, the object first; every pointer that is passed lives until then.
    // PROJ accepts null for neither, so both are checked.
    unsafe {
        let context = sys::proj_context_create();
        if context.is_null() {
            return None;
        }
        let paths = [folder.as_ptr()];
        sys::proj_context_set_search_paths(context, 1, paths.as_ptr());
        let projection = sys::proj_create(context, definition.as_ptr());
        let found = if projection.is_null() {
            None
        } else {
            let place = sys::proj_coord(at.lon_deg.to_radians(), at.lat_deg.to_radians(), 0.0, 0.0);
            let found = sys::proj_factors(projection, place);
            let fault = sys::proj_errno(projection);
            sys::proj_destroy(projection);
            (fault == 0).then_some(found)
        };
        sys::proj_context_destroy(context);
        let found = found?;
        Some(Factors {
            convergence_deg: found.meridian_convergence.to_degrees(),
            // A conformal projection has one scale in all directions; the areal scale's root is that.
            scale: found.areal_scale.sqrt(),
        })
    }
}
