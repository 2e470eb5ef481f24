//! Places: longitude and latitude, and what a projection does to directions and lengths.
//!
//! The projections themselves are computed by the CRS library, which reads a database; it stands in
//! `api`. Here are only the values that it gives.

/// A place in longitude and latitude (CRS84 order), degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LonLat {
    /// Longitude, degrees, east positive.
    pub lon_deg: f64,
    /// Latitude, degrees, north positive.
    pub lat_deg: f64,
}

/// What a projection does at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factors {
    /// Grid convergence, degrees: the angle from true north to grid north, clockwise positive, so
    /// that a true azimuth is the grid azimuth plus the convergence.
    pub convergence_deg: f64,
    /// Point scale factor: grid distance over ground distance.
    pub scale: f64,
}
