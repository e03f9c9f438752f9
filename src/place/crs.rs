//! What do a map's eastings and northings mean on the Earth, and which way is its north?
//!
//! Map coordinates are (x, y) in the order of the screen: easting and northing in the map's own unit, or longitude and
//! latitude in degrees where the system is geographic.

use std::fmt;

use proj4rs::Proj;
use proj4rs::transform::transform;

use super::{Geographic, PlaceError, TangentPlane};
use crate::angle::Angle;

/// A coordinate reference system of maps and grids: a map projection or a geographic system, with its datum.
///
/// # Source
/// Definitions by EPSG code from the crate `crs-definitions`, computed by `proj4rs`.
#[derive(Clone)]
pub struct Crs {
    code: u16,
    definition: String,
    map: Proj,
    wgs84: Proj,
    tie: DatumTie,
}

/// How well the system's datum is tied to WGS 84.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum DatumTie {
    /// The same to a metre or two.
    Same,
    /// By published shift parameters.
    Shifted,
    /// Not at all.
    Unknown,
}

/// How far grid north is looked along: small against the Earth, large against rounding.
const CONVERGENCE_STEP_M: f64 = 100.0;

impl Crs {
    /// The reference system of an EPSG code, such as 32756 for WGS 84 / UTM zone 56 south.
    ///
    /// # Errors
    /// The code is not known, is no map projection or geographic system, or cannot be computed.
    ///
    /// # Example
    /// ```
    /// use plumbsight::place::{Crs, Geographic};
    /// let zone_31 = Crs::from_epsg(32631)?;
    /// // On the central meridian the easting is 500 km, and on the equator the northing is 0.
    /// let (x, y) = zone_31.map_from_geographic(&Geographic::from_degrees(0.0, 3.0, 0.0)?).expect("in the zone");
    /// assert!((x - 500_000.0).abs() < 1e-6 && y.abs() < 1e-6);
    /// # Ok::<(), plumbsight::place::PlaceError>(())
    /// ```
    pub fn from_epsg(code: u16) -> Result<Self, PlaceError> {
        let known = crs_definitions::from_code(code).map(|known| known.proj4).filter(|text| text.contains("+proj="));
        let known = known.ok_or(PlaceError::UnknownCode { code })?;
        let unsupported = |why: String| PlaceError::Unsupported { code, why };
        let (definition, tie) = computable(known);
        let map = Proj::from_proj_string(&definition).map_err(|error| unsupported(error.to_string()))?;
        if map.is_geocent() {
            return Err(PlaceError::UnknownCode { code });
        }
        if !map.has_inverse() || !map.has_forward() {
            return Err(unsupported("it cannot be undone".into()));
        }
        let wgs84 = Proj::from_proj_string("+proj=longlat +datum=WGS84 +no_defs")
            .map_err(|error| unsupported(error.to_string()))?;
        Ok(Self { code, definition, map, wgs84, tie })
    }

    /// WGS 84 longitude and latitude in degrees, EPSG:4326.
    pub fn wgs84() -> Self {
        Self::from_epsg(4326).expect("EPSG:4326 is among the tested codes")
    }

    /// The EPSG code.
    pub fn code(&self) -> u16 {
        self.code
    }

    /// The projection string that is computed: the published one, except where this names files or is more exactly
    /// computed another way.
    pub fn definition(&self) -> &str {
        &self.definition
    }

    /// Whether map coordinates are longitude and latitude in degrees.
    pub fn is_geographic(&self) -> bool {
        self.map.is_latlong()
    }

    /// The map's unit of length in metres; 1 where coordinates are degrees.
    pub fn unit_m(&self) -> f64 {
        self.map.to_meter()
    }

    /// What to know about the system's datum before laying this map over another one; none where the two agree to a
    /// metre or two.
    pub fn datum_caution(&self) -> Option<String> {
        match self.tie {
            DatumTie::Same => None,
            DatumTie::Shifted => Some(format!(
                "{self} has a datum of its own, carried to WGS 84 by published parameters: good to some metres against \
                 maps in another system"
            )),
            DatumTie::Unknown => Some(format!(
                "{self} has a datum whose tie to WGS 84 is not known here: against maps in another system it may be \
                 hundreds of metres off"
            )),
        }
    }

    /// The position of a map point; none outside the projection's reach.
    pub fn geographic_from_map(&self, (x, y): (f64, f64), height_m: f64) -> Option<Geographic> {
        let mut point = if self.is_geographic() { (x.to_radians(), y.to_radians()) } else { (x, y) };
        if !(point.0.is_finite() && point.1.is_finite()) {
            return None;
        }
        transform(&self.map, &self.wgs84, &mut point).ok()?;
        Geographic::from_degrees(point.1.to_degrees(), point.0.to_degrees(), height_m).ok()
    }

    /// The map point of a position; none outside the projection's reach.
    pub fn map_from_geographic(&self, place: &Geographic) -> Option<(f64, f64)> {
        let mut point = (place.longitude().radians(), place.latitude().radians());
        transform(&self.wgs84, &self.map, &mut point).ok()?;
        let (x, y) = if self.is_geographic() { (point.0.to_degrees(), point.1.to_degrees()) } else { point };
        (x.is_finite() && y.is_finite()).then_some((x, y))
    }

    /// Grid convergence at a map point: the angle from true north to grid north, clockwise, so that
    /// true bearing = grid bearing + convergence. None outside the projection's reach.
    ///
    /// # Formula
    /// The bearing in which the map's second axis runs, read off the tangent plane over 100 m either way.
    pub fn convergence(&self, (x, y): (f64, f64)) -> Option<Angle> {
        let step =
            if self.is_geographic() { CONVERGENCE_STEP_M / 111_000.0 } else { CONVERGENCE_STEP_M / self.unit_m() };
        let plane = TangentPlane::new(self.geographic_from_map((x, y), 0.0)?);
        let along = |step: f64| Some(plane.plan_from_geographic(&self.geographic_from_map((x, y + step), 0.0)?));
        let ((east_ahead, north_ahead), (east_behind, north_behind)) = (along(step)?, along(-step)?);
        let (east, north) = (east_ahead - east_behind, north_ahead - north_behind);
        (east.hypot(north) > 0.0).then(|| Angle::bearing_of(east, north))
    }
}

impl fmt::Display for Crs {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "EPSG:{}", self.code)?;
        let value_of = |key: &str| self.definition.split_whitespace().find_map(|word| word.strip_prefix(key));
        if let Some(zone) = value_of("+zone=") {
            let half = if self.definition.split_whitespace().any(|word| word == "+south") { "south" } else { "north" };
            write!(f, " (UTM zone {zone} {half})")?;
        } else if self.is_geographic() {
            write!(f, " (longitude and latitude in degrees)")?;
        }
        Ok(())
    }
}

impl fmt::Debug for Crs {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Crs({self}: {})", self.definition)
    }
}

impl PartialEq for Crs {
    fn eq(&self, other: &Self) -> bool {
        self.code == other.code
    }
}

/// A published projection string as it is computed here, and how its datum is tied to WGS 84.
fn computable(published: &str) -> (String, DatumTie) {
    let mut words = Vec::new();
    let (mut ellipsoid, mut datum, mut shift, mut sphere) = ("", "", None, false);
    for word in published.split_whitespace() {
        let (key, value) = word.split_once('=').unwrap_or((word, ""));
        match key {
            // Shift grids are files that this program does not have.
            "+nadgrids" if value != "@null" => continue,
            "+nadgrids" => sphere = true,
            "+ellps" => ellipsoid = value,
            "+datum" => datum = value,
            "+towgs84" => shift = Some(value),
            _ => {}
        }
        words.push(word);
    }
    for word in &mut words {
        match *word {
            // This datum is only known through such files.
            "+datum=NAD27" => *word = "+ellps=clrk66",
            // Taken as WGS 84, from which it differs by one to two metres.
            "+datum=NAD83" => *word = "+ellps=GRS80 +towgs84=0,0,0",
            // The series of Engsager and Poder holds far from the central meridian too; it needs an ellipsoid, and every
            // transverse Mercator of the list has one.
            "+proj=tmerc" => *word = "+proj=etmerc",
            _ => {}
        }
    }
    let same_ellipsoid = matches!(ellipsoid, "GRS80" | "WGS84");
    let tie = match (datum, shift) {
        ("WGS84" | "NAD83", _) => DatumTie::Same,
        ("NAD27", _) => DatumTie::Unknown,
        (_, Some(shift)) => {
            let nought = shift.split(',').all(|part| part.parse() == Ok(0.0));
            if nought && same_ellipsoid { DatumTie::Same } else { DatumTie::Shifted }
        }
        ("", None) if same_ellipsoid || sphere => DatumTie::Same,
        ("", None) => DatumTie::Unknown,
        (_, None) => DatumTie::Shifted,
    };
    (words.join(" "), tie)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grid_north_leans_towards_the_side_the_central_meridian_is_not_on() {
        // 3° of longitude from the central meridian at 60°: convergence = atan(tan 3° · sin 60°), the sphere's formula.
        let zone_32 = Crs::from_epsg(32632).expect("known");
        let at = |longitude_deg: f64| {
            let place = Geographic::from_degrees(60.0, longitude_deg, 0.0).expect("a place");
            zone_32.convergence(zone_32.map_from_geographic(&place).expect("in reach")).expect("in reach").degrees()
        };
        let sphere_deg = (3.0_f64.to_radians().tan() * 60.0_f64.to_radians().sin()).atan().to_degrees();
        assert!(at(9.0).abs() < 1e-9);
        assert!((at(12.0) - sphere_deg).abs() < 0.002, "{}", at(12.0));
        assert!((at(6.0) + sphere_deg).abs() < 0.002);
        assert!(Crs::wgs84().convergence((12.0, 60.0)).expect("in reach").degrees().abs() < 1e-9);
    }

    #[test]
    fn unknown_codes_and_far_points_are_answered_plainly() {
        for code in [0, 1, 4978, 65535] {
            assert_eq!(Crs::from_epsg(code).expect_err("refused"), PlaceError::UnknownCode { code });
        }
        let zone = Crs::from_epsg(32756).expect("known");
        for point in [(f64::NAN, 0.0), (f64::INFINITY, 0.0), (1e300, -1e300), (1e12, 5.0)] {
            assert_eq!(zone.geographic_from_map(point, 0.0), None, "{point:?}");
            assert_eq!(zone.convergence(point), None, "{point:?}");
        }
        assert_eq!(zone.to_string(), "EPSG:32756 (UTM zone 56 south)");
    }

    #[test]
    fn datums_are_told_apart() {
        let tie = |code| Crs::from_epsg(code).expect("known").tie;
        for code in [4326, 32756, 25832, 26918, 28356, 7856, 2193, 3857] {
            assert_eq!(tie(code), DatumTie::Same, "{code}");
        }
        for code in [27700, 28992, 31370, 2056, 27205] {
            assert_eq!(tie(code), DatumTie::Shifted, "{code}");
        }
        for code in [26718, 2000] {
            assert_eq!(tie(code), DatumTie::Unknown, "{code}");
        }
    }
}
