//! How does latitude, longitude and height become metres east, north and up of the anchor?
//!
//! Geographic → geocentric → topocentric, on WGS 84.

use nalgebra::Point3;

use super::PlaceError;
use crate::angle::Angle;
use crate::pose::WorldPoint;

/// A geocentric position: metres from the Earth's centre, x towards (0° N, 0° E), y towards (0° N, 90° E), z towards
/// the north pole.
pub type EcefPoint = Point3<f64>;

/// The radius about its anchor within which a site is built: at its rim the ground has dropped 2 m below the tangent
/// plane.
pub const VALID_RADIUS_M: f64 = 5_000.0;

/// WGS 84's semi-major axis. Source: EPSG dataset, ellipsoid 7030.
const SEMI_MAJOR_M: f64 = 6_378_137.0;
/// WGS 84's flattening. Source: EPSG dataset, ellipsoid 7030.
const FLATTENING: f64 = 1.0 / 298.257_223_563;
/// The first eccentricity squared.
const ECCENTRICITY_SQUARED: f64 = FLATTENING * (2.0 - FLATTENING);
/// The lowest and highest height that is a place.
const HEIGHTS_M: (f64, f64) = (-12_000.0, 100_000.0);

/// A WGS 84 position: always a real place, never a NaN.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Geographic {
    latitude: Angle,
    longitude: Angle,
    height_m: f64,
}

impl Geographic {
    /// The position at so many degrees north and east and metres up.
    ///
    /// # Valid range
    /// Latitude −90° to 90°, longitude −360° to 360° (turned into −180° to 180°), height −12 km to 100 km.
    ///
    /// # Errors
    /// A value outside its range, or no number.
    pub fn from_degrees(latitude_deg: f64, longitude_deg: f64, height_m: f64) -> Result<Self, PlaceError> {
        for (what, value, lowest, highest) in [
            ("the latitude in degrees", latitude_deg, -90.0, 90.0),
            ("the longitude in degrees", longitude_deg, -360.0, 360.0),
            ("the height in metres", height_m, HEIGHTS_M.0, HEIGHTS_M.1),
        ] {
            if !(lowest..=highest).contains(&value) {
                return Err(PlaceError::OutOfRange { what, value, lowest, highest });
            }
        }
        Ok(Self {
            latitude: Angle::from_degrees(latitude_deg),
            longitude: Angle::from_degrees(longitude_deg).wrapped(),
            height_m,
        })
    }

    /// The latitude, north positive.
    pub fn latitude(&self) -> Angle {
        self.latitude
    }

    /// The longitude, east positive, in (−180°, 180°].
    pub fn longitude(&self) -> Angle {
        self.longitude
    }

    /// The height above the ellipsoid, or above whatever the site's heights are counted from: 100 m between the two
    /// shift a plan position 5 km from the anchor by 8 cm.
    pub fn height_m(&self) -> f64 {
        self.height_m
    }

    /// The same latitude and longitude at another height; clamped to what is a place.
    #[must_use]
    pub fn at_height_m(self, height_m: f64) -> Self {
        let height_m = if height_m.is_nan() { self.height_m } else { height_m.clamp(HEIGHTS_M.0, HEIGHTS_M.1) };
        Self { height_m, ..self }
    }

    /// The geocentric position.
    ///
    /// # Source
    /// IOGP 373-7-2 (EPSG Guidance Note 7-2), method 9602.
    pub fn ecef(&self) -> EcefPoint {
        let (sin_latitude, cos_latitude) = self.latitude.sin_cos();
        let (sin_longitude, cos_longitude) = self.longitude.sin_cos();
        let normal_m = prime_vertical_radius_m(sin_latitude);
        EcefPoint::new(
            (normal_m + self.height_m) * cos_latitude * cos_longitude,
            (normal_m + self.height_m) * cos_latitude * sin_longitude,
            ((1.0 - ECCENTRICITY_SQUARED) * normal_m + self.height_m) * sin_latitude,
        )
    }

    /// The geographic position of a geocentric one; none outside the heights that are a place.
    ///
    /// # Formula
    /// Bowring's, repeated until it stands still; the height by a form that also holds at the poles.
    ///
    /// # Source
    /// IOGP 373-7-2 (EPSG Guidance Note 7-2), method 9602, reverse case.
    pub fn from_ecef(ecef: &EcefPoint) -> Option<Self> {
        let from_axis_m = ecef.x.hypot(ecef.y);
        let semi_minor_m = SEMI_MAJOR_M * (1.0 - FLATTENING);
        let second_eccentricity_squared = ECCENTRICITY_SQUARED / (1.0 - ECCENTRICITY_SQUARED);
        // The reduced latitude: of the point itself first, of the point below it on the ellipsoid afterwards.
        let mut reduced = (ecef.z * SEMI_MAJOR_M).atan2(from_axis_m * semi_minor_m);
        let mut latitude = 0.0;
        for _ in 0..4 {
            let (sine, cosine) = reduced.sin_cos();
            latitude = (ecef.z + second_eccentricity_squared * semi_minor_m * sine.powi(3))
                .atan2(from_axis_m - ECCENTRICITY_SQUARED * SEMI_MAJOR_M * cosine.powi(3));
            reduced = ((1.0 - FLATTENING) * latitude.sin()).atan2(latitude.cos());
        }
        let (sine, cosine) = latitude.sin_cos();
        let height_m =
            from_axis_m * cosine + ecef.z * sine - SEMI_MAJOR_M * (1.0 - ECCENTRICITY_SQUARED * sine * sine).sqrt();
        Self::from_degrees(latitude.to_degrees(), ecef.y.atan2(ecef.x).to_degrees(), height_m).ok()
    }
}

/// The radius of curvature across the meridian.
fn prime_vertical_radius_m(sin_latitude: f64) -> f64 {
    SEMI_MAJOR_M / (1.0 - ECCENTRICITY_SQUARED * sin_latitude * sin_latitude).sqrt()
}

/// The straight distance between two positions; along the ground it is longer by 0.2 mm in 5 km.
pub fn distance_m(a: &Geographic, b: &Geographic) -> f64 {
    (a.ecef() - b.ecef()).norm()
}

/// The plane that touches the Earth's level at the anchor: the site's own axes.
///
/// Two vertical axes are in use. *Topocentric*: straight up from the plane, as light travels. *World*: the site's own,
/// where plan positions are those of the ground at the anchor's height and z is height minus the anchor's height, as
/// maps, levels and terrain files give it. The two differ by [`TangentPlane::drop_m`], 2 m at 5 km.
///
/// # Valid range
/// [`VALID_RADIUS_M`] about the anchor; beyond it everything is still computed.
///
/// # Example
/// ```
/// use plumbsight::place::{Geographic, TangentPlane};
/// let plane = TangentPlane::new(Geographic::from_degrees(0.0, 10.0, 0.0)?);
/// // A thousandth of a degree along the equator: 6378137 m · 0.001° · π/180.
/// let world = plane.world_from_geographic(&Geographic::from_degrees(0.0, 10.001, 25.0)?);
/// assert!((world.x - 111.3195).abs() < 1e-4 && world.y.abs() < 1e-9 && (world.z - 25.0).abs() < 1e-9);
/// # Ok::<(), plumbsight::place::PlaceError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TangentPlane {
    anchor: Geographic,
    anchor_in_ecef: EcefPoint,
}

impl TangentPlane {
    /// The plane at an anchor.
    pub fn new(anchor: Geographic) -> Self {
        Self { anchor, anchor_in_ecef: anchor.ecef() }
    }

    /// Where it touches.
    pub fn anchor(&self) -> Geographic {
        self.anchor
    }

    /// Metres east, north and straight up of the anchor.
    ///
    /// # Source
    /// IOGP 373-7-2 (EPSG Guidance Note 7-2), methods 9836 and 9837: (U, V, W).
    pub fn topocentric_from_geographic(&self, place: &Geographic) -> WorldPoint {
        let offset = place.ecef() - self.anchor_in_ecef;
        let (sin_latitude, cos_latitude) = self.anchor.latitude.sin_cos();
        let (sin_longitude, cos_longitude) = self.anchor.longitude.sin_cos();
        let outward = cos_longitude * offset.x + sin_longitude * offset.y;
        WorldPoint::new(
            cos_longitude * offset.y - sin_longitude * offset.x,
            cos_latitude * offset.z - sin_latitude * outward,
            cos_latitude * outward + sin_latitude * offset.z,
        )
    }

    /// The position at so many metres east, north and straight up of the anchor; none far off the Earth.
    ///
    /// # Source
    /// IOGP 373-7-2 (EPSG Guidance Note 7-2), methods 9836 and 9837, reverse case.
    pub fn geographic_from_topocentric(&self, point: &WorldPoint) -> Option<Geographic> {
        let (sin_latitude, cos_latitude) = self.anchor.latitude.sin_cos();
        let (sin_longitude, cos_longitude) = self.anchor.longitude.sin_cos();
        let outward = cos_latitude * point.z - sin_latitude * point.y;
        Geographic::from_ecef(&EcefPoint::new(
            self.anchor_in_ecef.x + cos_longitude * outward - sin_longitude * point.x,
            self.anchor_in_ecef.y + sin_longitude * outward + cos_longitude * point.x,
            self.anchor_in_ecef.z + cos_latitude * point.y + sin_latitude * point.z,
        ))
    }

    /// The world point of a position: its plan position, and its height minus the anchor's.
    pub fn world_from_geographic(&self, place: &Geographic) -> WorldPoint {
        let level = self.topocentric_from_geographic(&place.at_height_m(self.anchor.height_m));
        WorldPoint::new(level.x, level.y, place.height_m - self.anchor.height_m)
    }

    /// The plan position (metres east and north) of a place, whatever its height.
    pub fn plan_from_geographic(&self, place: &Geographic) -> (f64, f64) {
        let world = self.world_from_geographic(place);
        (world.x, world.y)
    }

    /// The position of a world point; none where the plan position lies off the Earth or the height is no place's.
    pub fn geographic_from_world(&self, point: &WorldPoint) -> Option<Geographic> {
        // The point of the plane is carried down to the anchor's own level; each round leaves 1 − cos(distance/6371 km)
        // of what was missing.
        let mut up_m = 0.0;
        for _ in 0..20 {
            let place = self.geographic_from_topocentric(&WorldPoint::new(point.x, point.y, up_m))?;
            let missing_m = self.anchor.height_m - place.height_m;
            if missing_m.abs() < 1e-7 {
                let degrees = (place.latitude.degrees(), place.longitude.degrees());
                return Geographic::from_degrees(degrees.0, degrees.1, self.anchor.height_m + point.z).ok();
            }
            up_m += missing_m;
        }
        None
    }

    /// How far the Earth's level has dropped below the plane at a distance from the anchor.
    ///
    /// # Formula
    /// d²/2R with R the mean radius of curvature at the anchor, √(M·N).
    ///
    /// # Example
    /// ```
    /// use plumbsight::place::{Geographic, TangentPlane};
    /// let plane = TangentPlane::new(Geographic::from_degrees(53.7, -0.31, 4.0)?);
    /// assert!((plane.drop_m(5000.0) - 1.96).abs() < 0.01);
    /// # Ok::<(), plumbsight::place::PlaceError>(())
    /// ```
    pub fn drop_m(&self, distance_m: f64) -> f64 {
        let sine = self.anchor.latitude.sin();
        let across_m = prime_vertical_radius_m(sine);
        let along_m = across_m * (1.0 - ECCENTRICITY_SQUARED) / (1.0 - ECCENTRICITY_SQUARED * sine * sine);
        distance_m * distance_m / (2.0 * (across_m * along_m).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn degrees(degrees: f64, minutes: f64, seconds: f64) -> f64 {
        degrees + minutes / 60.0 + seconds / 3600.0
    }

    /// IOGP 373-7-2 (EPSG Guidance Note 7-2), examples of methods 9602, 9836 and 9837, as restated in the test suite of
    /// PROJ, test/gie/builtins.gie. The example's origin stands 200 m above the ellipsoid.
    #[test]
    fn the_published_topocentric_example_comes_out_to_the_millimetre() {
        let place =
            Geographic::from_degrees(degrees(53.0, 48.0, 33.820), degrees(2.0, 7.0, 46.380), 73.0).expect("a place");
        let ecef = place.ecef();
        for (computed, published) in [(ecef.x, 3771793.968), (ecef.y, 140253.342), (ecef.z, 5124304.349)] {
            assert!((computed - published).abs() < 1e-3, "{computed} for {published}");
        }
        let plane = TangentPlane::new(Geographic::from_degrees(55.0, 5.0, 200.0).expect("a place"));
        let origin = plane.anchor().ecef();
        for (computed, published) in [(origin.x, 3652755.3058), (origin.y, 319574.6799), (origin.z, 5201547.3536)] {
            assert!((computed - published).abs() < 1e-4, "{computed} for {published}");
        }
        let local = plane.topocentric_from_geographic(&place);
        for (computed, published) in [(local.x, -189013.869), (local.y, -128642.040), (local.z, -4220.171)] {
            assert!((computed - published).abs() < 1e-3, "{computed} for {published}");
        }
        let back = plane.geographic_from_topocentric(&local).expect("on the Earth");
        assert!(distance_m(&back, &place) < 1e-6);
    }

    #[test]
    fn every_place_returns_from_geocentric_coordinates() {
        for latitude_deg in [-90.0, -89.999_999, -45.0, -1e-9, 0.0, 12.0, 60.0, 89.0, 90.0] {
            for longitude_deg in [-180.0, -90.0, 0.0, 77.7, 180.0] {
                for height_m in [-10_000.0, 0.0, 150.0, 90_000.0] {
                    let place = Geographic::from_degrees(latitude_deg, longitude_deg, height_m).expect("a place");
                    let back = Geographic::from_ecef(&place.ecef()).expect("a place");
                    assert!(distance_m(&place, &back) < 5e-9, "{place:?} came back as {back:?}");
                    assert!((back.height_m() - height_m).abs() < 5e-9);
                }
            }
        }
    }

    #[test]
    fn the_world_is_level_and_returns() {
        let plane = TangentPlane::new(Geographic::from_degrees(-32.9417, 151.7424, 28.0).expect("a place"));
        for (x, y, z) in [(0.0, 0.0, 0.0), (5000.0, 0.0, -20.0), (-3000.0, 4000.0, 300.0), (80_000.0, -60_000.0, 5.0)] {
            let place = plane.geographic_from_world(&WorldPoint::new(x, y, z)).expect("on the Earth");
            assert!((place.height_m() - (28.0 + z)).abs() < 1e-9);
            let world = plane.world_from_geographic(&place);
            assert!((world - WorldPoint::new(x, y, z)).norm() < 1e-6, "{world}");
        }
        assert_eq!(plane.geographic_from_world(&WorldPoint::new(7e6, 0.0, 0.0)), None);
        assert_eq!(plane.geographic_from_world(&WorldPoint::new(f64::NAN, 0.0, 0.0)), None);
        assert_eq!(plane.geographic_from_world(&WorldPoint::new(0.0, 0.0, f64::INFINITY)), None);
    }

    #[test]
    fn the_ground_drops_two_metres_at_five_kilometres() {
        for latitude_deg in [0.0, 33.0, 53.7, 90.0] {
            let plane = TangentPlane::new(Geographic::from_degrees(latitude_deg, 20.0, 0.0).expect("a place"));
            let diagonal_m = VALID_RADIUS_M / f64::sqrt(2.0);
            let rim = plane.geographic_from_world(&WorldPoint::new(diagonal_m, diagonal_m, 0.0)).expect("on the Earth");
            let up_m = plane.topocentric_from_geographic(&rim).z;
            assert!((up_m + plane.drop_m(VALID_RADIUS_M)).abs() < 0.001, "{up_m} at {latitude_deg}");
            assert!((plane.drop_m(VALID_RADIUS_M) - 1.96).abs() < 0.02);
        }
    }

    #[test]
    fn what_is_no_place_is_refused_by_name() {
        for (latitude_deg, longitude_deg, height_m, what) in [
            (90.001, 0.0, 0.0, "latitude"),
            (f64::NAN, 0.0, 0.0, "latitude"),
            (0.0, 361.0, 0.0, "longitude"),
            (0.0, f64::INFINITY, 0.0, "longitude"),
            (0.0, 0.0, 1e6, "height"),
        ] {
            let error = Geographic::from_degrees(latitude_deg, longitude_deg, height_m).expect_err("refused");
            assert!(error.to_string().contains(what), "{error}");
        }
        let wrapped = Geographic::from_degrees(0.0, 350.0, 0.0).expect("a place");
        assert!((wrapped.longitude().degrees() + 10.0).abs() < 1e-12);
        assert_eq!(Geographic::from_ecef(&EcefPoint::origin()), None);
        assert_eq!(Geographic::from_ecef(&EcefPoint::new(f64::NAN, 1.0, 1.0)), None);
    }
}
