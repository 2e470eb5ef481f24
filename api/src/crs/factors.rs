//! Grid convergence, point scale factor and distortion: the one call of PROJ that its safe wrapper lacks.
#![allow(unsafe_code)]

use super::database;
use proj_sys as sys;
use spatial::frame::{Factors, LonLat};
use std::cell::RefCell;
use std::collections::HashMap;
use std::f64::consts::FRAC_PI_2;
use std::ffi::CString;
use std::os::unix::ffi::OsStrExt;

thread_local! {
    static MADE: RefCell<HashMap<u32, Option<Projection>>> = RefCell::default();
}

/// What the projected CRS `EPSG:code` does at places, their longitudes counted from its own prime
/// meridian; `None` where PROJ cannot tell.
pub(super) fn factors(code: u32, places: &[LonLat]) -> Vec<Option<Factors>> {
    at_each(code, places, |found| {
        // A conformal projection has one scale in all directions; the areal scale's root is that.
        let (convergence_deg, scale) = (found.meridian_convergence.to_degrees(), found.areal_scale.sqrt());
        let told = convergence_deg.is_finite() && scale.is_finite() && scale > 0.0;
        told.then_some(Factors {
            convergence_deg,
            scale,
        })
    })
}

/// How far the projection of `EPSG:code` is from conformal at places as for [`factors`]: the larger of two
/// parts, by which the scale along the meridian differs from that along the parallel, and by which
/// their angle differs from a right one, radians. 0 is conformal.
pub(super) fn distortions(code: u32, places: &[LonLat]) -> Vec<Option<f64>> {
    at_each(code, places, |found| {
        let stretch = (found.meridional_scale / found.parallel_scale - 1.0).abs();
        let skew = (found.meridian_parallel_angle - FRAC_PI_2).abs();
        (stretch.is_finite() && skew.is_finite()).then_some(stretch.max(skew))
    })
}

fn at_each<T>(code: u32, places: &[LonLat], told: impl Fn(sys::PJ_FACTORS) -> Option<T>) -> Vec<Option<T>> {
    MADE.with_borrow_mut(|made| {
        let projection = made.entry(code).or_insert_with(|| Projection::make(code));
        places
            .iter()
            .map(|place| told(projection.as_mut()?.at(*place)?))
            .collect()
    })
}

/// A projection with its context, both owned by the thread that made them.
struct Projection {
    context: *mut sys::PJ_CONTEXT,
    object: *mut sys::PJ,
}

impl Projection {
    fn make(code: u32) -> Option<Self> {
        let folder = CString::new(database::folder().ok()?.as_os_str().as_bytes()).ok()?;
        let definition = CString::new(format!("EPSG:{code}")).ok()?;
        let paths = [folder.as_ptr()];
        // SAFETY: the strings live until the calls return, and PROJ copies them. Null answers are checked
        // before they are used: a null context ends here, a null object destroys the context first.
        unsafe {
            let context = sys::proj_context_create();
            if context.is_null() {
                return None;
            }
            sys::proj_context_set_search_paths(context, 1, paths.as_ptr());
            let object = sys::proj_create(context, definition.as_ptr());
            if object.is_null() {
                sys::proj_context_destroy(context);
                return None;
            }
            Some(Self { context, object })
        }
    }

    fn at(&mut self, place: LonLat) -> Option<sys::PJ_FACTORS> {
        // SAFETY: the object was made by `make`, is not null, lives until `drop`, and is used on this thread
        // alone: raw pointers keep the type from being sent to another.
        let (found, fault) = unsafe {
            sys::proj_errno_reset(self.object);
            let place = sys::proj_coord(place.lon_deg.to_radians(), place.lat_deg.to_radians(), 0.0, 0.0);
            (
                sys::proj_factors(self.object, place),
                sys::proj_errno(self.object),
            )
        };
        (fault == 0).then_some(found)
    }
}

impl Drop for Projection {
    fn drop(&mut self) {
        // SAFETY: both were made by `make`, are not null and are destroyed once, the object before its context.
        unsafe {
            sys::proj_destroy(self.object);
            sys::proj_context_destroy(self.context);
        }
    }
}
