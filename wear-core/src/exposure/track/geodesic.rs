//! Distance on the ground.

use std::sync::LazyLock;

use geographiclib_rs::{Geodesic, InverseGeodesic as _};

/// A place on the ellipsoid of WGS 84, degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position {
    /// North of the equator, degrees, −90 to 90.
    pub latitude: f64,
    /// East of Greenwich, degrees, −180 to 180.
    pub longitude: f64,
}

/// The ellipsoid of WGS 84: a = 6,378,137 m, f = 1/298.257223563 (S).
static WGS_84: LazyLock<Geodesic> = LazyLock::new(Geodesic::wgs84);

/// Length of the geodesic between two places on WGS 84, m; good to 15 nm (Karney 2013, J. Geodesy 87:43–55, S).
/// Heights don't count: a 10 % grade is half a percent longer than its map.
#[must_use]
pub fn geodesic_m(from: Position, to: Position) -> f64 {
    WGS_84.inverse(from.latitude, from.longitude, to.latitude, to.longitude)
}

/// Length, m, and bearing at the start, degrees from north.
pub(super) fn length_and_bearing(from: Position, to: Position) -> (f64, f64) {
    let (metres, bearing, ..): (f64, f64, f64, f64) =
        WGS_84.inverse(from.latitude, from.longitude, to.latitude, to.longitude);
    (metres, bearing)
}

/// Length of a line through places in turn, m, as it stands: noise and jumps count.
#[must_use]
pub fn path_m(places: &[Position]) -> f64 {
    places.windows(2).map(|pair| geodesic_m(pair[0], pair[1])).sum()
}
