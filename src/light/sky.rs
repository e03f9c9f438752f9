//! Where does the sun stand over the site, and when does it rise, culminate and set?
//!
//! Azimuth clockwise from true north, altitude above the level horizon. The *true* altitude is where the sun is, the
//! *apparent* one where the air's refraction shows it; light and shadow go by the apparent one.

use solar_positioning::time::JulianDate;
use solar_positioning::{EventPosition, Horizon, Location, RefractionCorrection, SolarEvents, SolarPositions};

use crate::angle::Angle;
use crate::place::Day;
use crate::pose::WorldVector;
use crate::site::{Site, Sun};

use super::error::LightError;
use super::moment::{Moment, Zone};

/// The sun's radius at its mean distance. Source: Reda & Andreas, NREL/TP-560-34302, §A.2.
const RADIUS_DEG: f64 = 0.266_67;
/// The altitude of the sun's centre at which its upper rim comes over a level horizon: refraction 0.5667° and the radius.
/// Source: as above.
pub const RISE_DEG: f64 = -0.8333;
/// The sun's centre as far below the horizon as ends each twilight (the usual definitions: civil, nautical, astronomical).
pub const TWILIGHTS_DEG: [f64; 3] = [-6.0, -12.0, -18.0];
/// The Earth's equatorial radius over the astronomical unit: the sine of the sun's mean horizontal parallax, 8.794″.
/// Source: Reda & Andreas, NREL/TP-560-34302, §3.12.
const PARALLAX_DEG: f64 = 8.794 / 3600.0;
/// The Earth's flattening, and its radius, as the algorithm has them. Source: as above.
const POLE_SHARE: f64 = 0.996_647_19;

/// The air that light comes through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Pressure where the camera stands, not reduced to the sea's level; from 300 to 1100 hPa.
    pub pressure_hpa: f64,
    /// Temperature there; from −60 to 60 °C.
    pub temperature_c: f64,
}

impl Air {
    /// The usual air at a height over the sea: the standard atmosphere's pressure, and 10 °C, at which refraction is
    /// tabled. Ten degrees warmer or colder change refraction by 4 %, which is 0.0006° with the sun at 40°.
    ///
    /// # Source
    /// ISO 2533, *Standard Atmosphere*, from memory: 1013.25 hPa · (1 − 0.0065 m⁻¹ h / 288.15)^5.2559.
    ///
    /// # Example
    /// ```
    /// use plumbsight::light::Air;
    /// assert!((Air::at_height_m(0.0).pressure_hpa - 1013.25).abs() < 1e-9);
    /// assert!((Air::at_height_m(1000.0).pressure_hpa - 898.7).abs() < 0.1);
    /// ```
    pub fn at_height_m(height_m: f64) -> Self {
        let pressure_hpa = 1013.25 * (1.0 - 0.0065 * height_m.clamp(-500.0, 9000.0) / 288.15).powf(5.2559);
        Self { pressure_hpa, temperature_c: 10.0 }
    }
}

/// Where the sun stands at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SunPosition {
    /// Clockwise from true north, from 0 to a whole turn.
    pub azimuth: Angle,
    /// Above the horizon, as the air shows it. Below −0.83° it is not lifted.
    pub altitude: Angle,
    /// Above the horizon, without the air.
    pub true_altitude: Angle,
    /// Half the width of its disc.
    pub semi_diameter: Angle,
}

impl SunPosition {
    /// The direction in which it is seen, of length 1.
    pub fn direction(&self) -> WorldVector {
        self.seen().direction()
    }

    /// Where it is seen, in the words of a site's file.
    pub fn seen(&self) -> Sun {
        Sun { azimuth_deg: self.azimuth.degrees(), altitude_deg: self.altitude.degrees() }
    }

    /// Whether any of its disc is above the level horizon.
    pub fn is_up(&self) -> bool {
        self.altitude.radians() > -self.semi_diameter.radians()
    }
}

/// The sky over one place.
#[derive(Clone, Debug)]
pub struct Sky {
    location: Location,
    height_m: f64,
    refraction: RefractionCorrection,
    delta_t_s: Option<f64>,
    zone: Zone,
}

/// When the sun's centre passes an altitude in the course of a day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Crossings {
    /// On its way up; near the poles there may be none, or two.
    pub rises: Vec<Moment>,
    /// On its way down.
    pub sets: Vec<Moment>,
    /// Whether it stands above the altitude as the day begins.
    pub begins_above: bool,
}

impl Crossings {
    /// Whether it stays above the altitude all day.
    pub fn always_above(&self) -> bool {
        self.begins_above && self.rises.is_empty() && self.sets.is_empty()
    }

    /// Whether it stays below the altitude all day.
    pub fn always_below(&self) -> bool {
        !self.begins_above && self.rises.is_empty() && self.sets.is_empty()
    }

    /// The stretches in which it is above.
    pub fn spans_above(&self, (start, end): (Moment, Moment)) -> Vec<(Moment, Moment)> {
        let mut since = self.begins_above.then_some(start);
        let mut spans = Vec::new();
        let mut all: Vec<(Moment, bool)> = self.rises.iter().map(|&at| (at, true)).collect();
        all.extend(self.sets.iter().map(|&at| (at, false)));
        all.sort_unstable();
        for (at, up) in all {
            match (since, up) {
                (None, true) => since = Some(at),
                (Some(from), false) => {
                    spans.push((from, at));
                    since = None;
                }
                (None, false) | (Some(_), true) => {}
            }
        }
        spans.extend(since.map(|from| (from, end)));
        spans
    }
}

/// The course of the sun on one day of the zone's calendar.
#[derive(Clone, Debug, PartialEq)]
pub struct SunDay {
    /// The day.
    pub day: Day,
    /// Its first moment, and the first of the next: 23 or 25 hours apart where the clocks change.
    pub bounds: (Moment, Moment),
    /// When the sun crosses the meridian, highest.
    pub transits: Vec<Moment>,
    /// When its upper rim comes over a level horizon, and goes below it.
    pub sun: Crossings,
    /// Dawn and dusk of civil, nautical and astronomical twilight.
    pub twilights: [Crossings; 3],
}

impl Sky {
    /// The sky over a site's anchor, by the clocks of its zone.
    ///
    /// # Errors
    /// The site has no anchor, or names a zone that is not known.
    pub fn over(site: &Site) -> Result<Self, LightError> {
        let anchor = site.anchor.as_ref().ok_or_else(|| LightError::NoAnchor { site: site.name.clone() })?;
        let zone = Zone::of(site)?;
        let sky = Self {
            location: Location {
                latitude: anchor.latitude_deg.clamp(-90.0, 90.0),
                longitude: anchor.longitude_deg.clamp(-180.0, 180.0),
            },
            height_m: anchor.height_m,
            refraction: RefractionCorrection::standard(),
            delta_t_s: None,
            zone,
        };
        sky.with_air(Air::at_height_m(anchor.height_m))
    }

    /// The same through other air.
    ///
    /// # Errors
    /// Pressure or temperature outside their ranges.
    pub fn with_air(self, air: Air) -> Result<Self, LightError> {
        for (what, value, lowest, highest) in [
            ("pressure in hPa", air.pressure_hpa, 300.0, 1100.0),
            ("temperature in °C", air.temperature_c, -60.0, 60.0),
        ] {
            if !(lowest..=highest).contains(&value) {
                return Err(LightError::Air { what, value, lowest, highest });
            }
        }
        let refraction = RefractionCorrection::new(air.pressure_hpa, air.temperature_c).unwrap_or(self.refraction);
        Ok(Self { refraction, ..self })
    }

    /// The same with so much between the Earth's own time and that of the planets, as worked examples give it; the
    /// library's estimate for the year unless given.
    #[must_use]
    pub fn with_delta_t(self, delta_t_s: f64) -> Self {
        Self { delta_t_s: Some(delta_t_s), ..self }
    }

    /// The zone by which its clocks go.
    pub const fn zone(&self) -> &Zone {
        &self.zone
    }

    /// The air that its light comes through.
    pub const fn air(&self) -> Air {
        Air { pressure_hpa: self.refraction.pressure(), temperature_c: self.refraction.temperature() }
    }

    fn delta_t_s(&self, moment: Moment) -> f64 {
        self.delta_t_s.unwrap_or_else(|| solar_positioning::delta_t::estimate(moment.decimal_year()).unwrap_or(69.0))
    }

    /// Where the sun stands at a moment.
    ///
    /// # Source
    /// Reda & Andreas, *Solar Position Algorithm for Solar Radiation Applications*, NREL/TP-560-34302, 2008: within
    /// 0.0003°.
    pub fn sun(&self, moment: Moment) -> SunPosition {
        // Every moment is one that the algorithm reaches, and every place was checked.
        self.sun_if_any(moment).unwrap_or(SunPosition {
            azimuth: Angle::ZERO,
            altitude: -Angle::QUARTER,
            true_altitude: -Angle::QUARTER,
            semi_diameter: Angle::from_degrees(RADIUS_DEG),
        })
    }

    fn sun_if_any(&self, moment: Moment) -> Option<SunPosition> {
        let julian = JulianDate::new(moment.julian_day(), self.delta_t_s(moment)).ok()?;
        let prepared = SolarPositions::new().for_time_from_julian(julian).ok()?;
        let true_place = prepared.at(self.location, self.height_m, None).ok()?;
        let seen = prepared.at(self.location, self.height_m, Some(self.refraction)).ok()?;
        Some(SunPosition {
            azimuth: Angle::from_degrees(seen.azimuth()),
            altitude: Angle::from_degrees(seen.elevation_angle()),
            true_altitude: Angle::from_degrees(true_place.elevation_angle()),
            semi_diameter: Angle::from_degrees(RADIUS_DEG / prepared.earth_radius_vector().unwrap_or(1.0)),
        })
    }

    /// The course of the sun on a day.
    ///
    /// Rise and set are those of tables: of the upper rim on a level horizon, seen from the sea's level, through the usual
    /// air.
    ///
    /// # Errors
    /// The day is outside the years that are computed.
    ///
    /// # Source
    /// Reda & Andreas, NREL/TP-560-34302, §A.2: the geocentric altitude of the sun's centre is −0.8333°.
    pub fn day(&self, day: Day) -> Result<SunDay, LightError> {
        let bounds = self.zone.bounds(day)?;
        let (start, end) = (bounds.0.julian_day(), bounds.1.julian_day());
        let delta_t_s = self.delta_t_s(bounds.0);
        let events = events();
        let mut transits = Vec::new();
        // The search leaves out its start, at which the sun may culminate.
        let mut from = start - 1e-8;
        while let Ok(Some(at)) = events.next_transit_from_julian(from, end, self.location.longitude, delta_t_s) {
            transits.push(Moment::of_julian_day(at));
            from = at;
        }
        transits.retain(|at| (bounds.0..bounds.1).contains(at));
        Ok(SunDay {
            day,
            bounds,
            transits,
            sun: self.crossings(bounds, RISE_DEG),
            twilights: TWILIGHTS_DEG.map(|altitude_deg| self.crossings(bounds, altitude_deg)),
        })
    }

    /// When the sun's centre passes an altitude (geocentric, without the air) between two moments.
    pub fn crossings(&self, (start, end): (Moment, Moment), altitude_deg: f64) -> Crossings {
        let found = events().for_interval_from_julian(
            start.julian_day(),
            end.julian_day(),
            self.location,
            self.delta_t_s(start),
            Horizon::Custom(altitude_deg.clamp(-90.0, 90.0)),
        );
        let moments = |days: &[f64]| days.iter().map(|&at| Moment::of_julian_day(at)).collect();
        found.map_or_else(
            |_| Crossings { rises: Vec::new(), sets: Vec::new(), begins_above: false },
            |events| Crossings {
                rises: moments(&events.rises),
                sets: moments(&events.sets),
                begins_above: events.state_at_start == solar_positioning::HorizonState::Above,
            },
        )
    }

    /// The stretches of a day in which the sun's centre is between two altitudes, such as the golden hour.
    pub fn spans_between(&self, bounds: (Moment, Moment), (low_deg, high_deg): (f64, f64)) -> Vec<(Moment, Moment)> {
        let above_high = self.crossings(bounds, high_deg).spans_above(bounds);
        let mut spans = Vec::new();
        for (begins, to) in self.crossings(bounds, low_deg).spans_above(bounds) {
            let mut from = begins;
            for &(out, back) in above_high.iter().filter(|(out, back)| *out < to && *back > begins) {
                if out > from {
                    spans.push((from, out));
                }
                from = back;
            }
            if from < to {
                spans.push((from, to));
            }
        }
        spans
    }
}

/// The search for crossings by the algorithm's own definition: geocentric altitudes. The library's own search has
/// topocentric ones, which the parallax makes up to 9″ lower: half a second to a second and a half at middle latitudes.
fn events() -> SolarEvents<impl Fn(JulianDate, Location) -> solar_positioning::Result<EventPosition>> {
    let positions = SolarPositions::new();
    let provider = move |time: JulianDate, location: Location| {
        let prepared = positions.for_time_from_julian(time)?;
        let seen = prepared.at(location, 0.0, None)?;
        let sun_radii = prepared.earth_radius_vector().unwrap_or(1.0) / PARALLAX_DEG.to_radians().sin();
        let (sin_latitude, cos_latitude) = location.latitude.to_radians().sin_cos();
        // The place from the Earth's centre, in its equatorial radii, north and up of the plane that is level there.
        let reduced = (POLE_SHARE * location.latitude.to_radians().tan()).atan();
        let (out, along) = (reduced.cos(), POLE_SHARE * reduced.sin());
        let (north, up) = (along * cos_latitude - out * sin_latitude, along * sin_latitude + out * cos_latitude);
        let (sin_azimuth, cos_azimuth) = seen.azimuth().to_radians().sin_cos();
        let (sin_altitude, cos_altitude) = seen.elevation_angle().to_radians().sin_cos();
        let east = sun_radii * cos_altitude * sin_azimuth;
        let north = sun_radii * cos_altitude * cos_azimuth + north;
        let up = sun_radii * sin_altitude + up;
        Ok(EventPosition {
            elevation: up.atan2(east.hypot(north)).to_degrees(),
            hour_angle: (-east).atan2(up * cos_latitude - north * sin_latitude).to_degrees(),
        })
    };
    SolarEvents::with_provider(provider, -2000..=6000).unwrap_or_else(|_| unreachable!("the years are in its range"))
}
