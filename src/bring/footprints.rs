//! How do footprints on the Earth become blocks of the site?

use std::path::{Path, PathBuf};

use super::error::BringError;
use super::geojson::{Footprint, Footprints, GeoJsonProblem, Height, read};
use super::intake::Intake;
use super::options::{BLOCK_HEIGHTS_M, BringOptions, STOREY_M};
use super::outline::FootprintRings;
use super::words::{counted, file_name, some_of};
use crate::place::{Crs, Geographic, VALID_RADIUS_M, distance_m};
use crate::site::{Block, PlanPoint, Shape};

/// A file of footprints with the system of its coordinates.
pub(super) struct FootprintFile {
    pub(super) path: PathBuf,
    crs: Crs,
    /// Whether it is in the map system that was asked for.
    pub(super) by_option: bool,
    footprints: Footprints,
}

/// What became of a file's footprints.
#[derive(Default)]
struct Tally {
    built: usize,
    holes: usize,
    lost_holes: usize,
    too_far: usize,
    by_storeys: usize,
    by_default: usize,
    lifted: usize,
    /// Blocks that would begin at or above their own tops.
    above_top: Vec<String>,
    unreadable: Vec<String>,
    faulty: Vec<String>,
}

impl Tally {
    /// How far a block is lifted off the ground and how high it is itself, to the millimetre as everything in a site file.
    fn heights_m(&mut self, footprint: &Footprint, name: &str, options: &BringOptions) -> (f64, f64) {
        let base_m = match footprint.base {
            Height::Metres(metres) => metres,
            Height::Storeys(storeys) => storeys * STOREY_M,
            Height::Unknown => 0.0,
        };
        let in_mm = |metres: f64| (metres * 1000.0).round();
        let base_mm = in_mm(base_m.max(0.0));
        let top_mm = match footprint.height {
            Height::Metres(metres) => in_mm(metres),
            Height::Storeys(storeys) => {
                self.by_storeys += 1;
                in_mm(storeys * STOREY_M)
            }
            Height::Unknown => {
                self.by_default += 1;
                base_mm + in_mm(options.default_height_m)
            }
        };
        if base_mm > 0.0 && top_mm - base_mm < in_mm(*BLOCK_HEIGHTS_M.start()) {
            self.above_top.push(format!("{name}: from {} m to {} m", base_mm / 1000.0, top_mm / 1000.0));
            return (0.0, top_mm / 1000.0);
        }
        self.lifted += usize::from(base_mm > 0.0);
        (base_mm / 1000.0, (top_mm - base_mm) / 1000.0)
    }
}

impl FootprintFile {
    /// Reads a file and finds out which system its coordinates are in. What cannot be placed is left out and noted.
    pub(super) fn read(path: &Path, text: &str, options: &BringOptions) -> Result<Self, BringError> {
        let refused = |problem| BringError::GeoJson { path: path.into(), problem };
        let mut footprints = read(text, options.height_unit).map_err(refused)?;
        let mut by_option = false;
        let crs = match &footprints.crs_name {
            Some(name) => named_crs(name).ok_or_else(|| refused(GeoJsonProblem::UnknownCrs { name: name.clone() }))?,
            None => match (Strays::of(&footprints), options.crs) {
                (None, _) => Crs::wgs84(),
                (Some(_), Some(code)) => {
                    by_option = true;
                    Crs::from_epsg(code).map_err(|source| BringError::Place { path: path.into(), source })?
                }
                (Some(strays), None) if 2 * strays.features > footprints.features.len() => {
                    let (x, y) = strays.corner;
                    return Err(refused(GeoJsonProblem::NotGeographic { feature: strays.first, x, y }));
                }
                // A few that are wrong among many that are right are only faulty.
                (Some(_), None) => Crs::wgs84(),
            },
        };
        let mut first = None;
        let Footprints { features, unreadable, .. } = &mut footprints;
        features.retain(|footprint| {
            let Some((x, y)) = corners_of(footprint).find(|&corner| crs.geographic_from_map(corner, 0.0).is_none())
            else {
                return true;
            };
            first.get_or_insert((x, y));
            unreadable.push(format!("feature {}: ({x:?}, {y:?}) is no place in {crs}", footprint.number));
            false
        });
        match first {
            Some((x, y)) if features.is_empty() => {
                Err(BringError::OffTheMap { path: path.into(), x, y, crs: crs.to_string() })
            }
            _ => Ok(Self { path: path.into(), crs, by_option, footprints }),
        }
    }

    /// The middle of everything in it.
    pub(super) fn centre(&self) -> Result<Geographic, BringError> {
        let (mut first, mut low, mut high) =
            (None, (f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
        for (x, y) in self.footprints.features.iter().flat_map(corners_of) {
            // Across the 180th meridian longitudes go on counting.
            let first_x = *first.get_or_insert(x);
            let x =
                if self.crs.is_geographic() { first_x + (x - first_x + 180.0).rem_euclid(360.0) - 180.0 } else { x };
            low = (low.0.min(x), low.1.min(y));
            high = (high.0.max(x), high.1.max(y));
        }
        self.place((0.5 * (low.0 + high.0), 0.5 * (low.1 + high.1)))
    }

    fn place(&self, (x, y): (f64, f64)) -> Result<Geographic, BringError> {
        self.crs.geographic_from_map((x, y), 0.0).ok_or_else(|| BringError::OffTheMap {
            path: self.path.clone(),
            x,
            y,
            crs: self.crs.to_string(),
        })
    }

    /// Adds a block for each polygon.
    pub(super) fn build(&self, file: usize, intake: &mut Intake<'_>) -> Result<String, BringError> {
        let options = intake.options;
        let mut tally = Tally::default();
        for footprint in &self.footprints.features {
            let wanted = footprint.name.clone().unwrap_or_else(|| format!("block {}", footprint.number));
            if let Some(text) = &footprint.unreadable {
                tally.unreadable.push(format!("{wanted}: {text}"));
            }
            for polygon in &footprint.polygons {
                let Some(rings) = self.in_plan(polygon, &wanted, intake)? else {
                    tally.too_far += 1;
                    continue;
                };
                let outline = match FootprintRings::new(&rings) {
                    Ok(outline) => outline,
                    Err(fault) => {
                        tally.faulty.push(format!("{wanted} {fault}"));
                        continue;
                    }
                };
                let (lift_m, height_m) = tally.heights_m(footprint, &wanted, options);
                tally.built += 1;
                tally.holes += outline.holes();
                tally.lost_holes += outline.lost_holes;
                let name = intake.names.give(&wanted, (file, footprint.number));
                intake.blocks.push(block(&name, &outline, lift_m, height_m));
            }
        }
        if tally.built == 0 && !tally.faulty.is_empty() {
            return Err(BringError::NothingSound { path: self.path.clone(), faults: some_of(&tally.faulty) });
        }
        if tally.built == 0 {
            return Err(BringError::NothingNear {
                path: self.path.clone(),
                within_m: options.within_m.unwrap_or(VALID_RADIUS_M),
                latitude_deg: intake.plane.anchor().latitude().degrees(),
                longitude_deg: intake.plane.anchor().longitude().degrees(),
            });
        }
        self.warn(&tally, options, &mut intake.warnings);
        let courts = if tally.holes > 0 { format!(", with {}", counted(tally.holes, "court")) } else { String::new() };
        let (built, features) = (counted(tally.built, "block"), counted(self.footprints.features.len(), "footprint"));
        Ok(format!("{}: {built} from {features}{courts}", file_name(&self.path)))
    }

    /// The rings of a polygon in plan; none for one that is not wanted.
    fn in_plan(
        &self,
        polygon: &[Vec<(f64, f64)>],
        name: &str,
        Intake { plane, options, .. }: &Intake<'_>,
    ) -> Result<Option<Vec<Vec<PlanPoint>>>, BringError> {
        let mut rings = Vec::with_capacity(polygon.len());
        let mut farthest_m = 0.0_f64;
        for ring in polygon {
            let mut in_plan = Vec::with_capacity(ring.len());
            for &corner in ring {
                let place = self.place(corner)?.at_height_m(plane.anchor().height_m());
                farthest_m = farthest_m.max(distance_m(&plane.anchor(), &place));
                in_plan.push(plane.plan_from_geographic(&place));
            }
            rings.push(in_plan);
        }
        match options.within_m {
            Some(within_m) if farthest_m > within_m => Ok(None),
            None if farthest_m > VALID_RADIUS_M => Err(BringError::TooFar {
                path: self.path.clone(),
                what: format!("'{name}'"),
                distance_km: farthest_m / 1000.0,
            }),
            _ => Ok(Some(rings)),
        }
    }

    fn warn(&self, tally: &Tally, options: &BringOptions, warnings: &mut Vec<String>) {
        let mut warn = |count: usize, text: String| {
            if count > 0 {
                warnings.push(format!("{}: {text}", file_name(&self.path)));
            }
        };
        let caution = self.crs.datum_caution();
        warn(usize::from(caution.is_some()), caution.unwrap_or_default());
        warn(
            self.footprints.others.values().sum(),
            format!("left out what is no footprint: {}", self.footprints.others_in_words()),
        );
        let unreadable = &self.footprints.unreadable;
        warn(
            unreadable.len(),
            format!(
                "left out {} of {} that cannot be read: {}",
                counted(unreadable.len(), "feature"),
                unreadable.len() + self.footprints.features.len() + self.footprints.others.values().sum::<usize>(),
                some_of(unreadable)
            ),
        );
        warn(
            tally.faulty.len(),
            format!(
                "left out {} that no solid can stand on: {}",
                counted(tally.faulty.len(), "polygon"),
                some_of(&tally.faulty)
            ),
        );
        warn(tally.too_far, format!("left out {} not wholly within reach", counted(tally.too_far, "polygon")));
        warn(tally.lost_holes, format!("left out {} smaller than 1 dm²", counted(tally.lost_holes, "hole")));
        warn(
            tally.unreadable.len(),
            format!("could not read {}: {}", counted(tally.unreadable.len(), "height"), some_of(&tally.unreadable)),
        );
        warn(
            tally.lifted,
            format!(
                "{} lifted off the ground, as the file says where they begin (min_height or the like)",
                if tally.lifted == 1 { "1 block is".into() } else { format!("{} blocks are", tally.lifted) }
            ),
        );
        warn(
            tally.above_top.len(),
            format!(
                "{} would begin at or above its own top, and was built from the ground: {}",
                counted(tally.above_top.len(), "block"),
                some_of(&tally.above_top)
            ),
        );
        warn(
            tally.by_storeys,
            format!(
                "{} with a number of storeys but no height: {STOREY_M} m a storey assumed (common practice, no source)",
                counted(tally.by_storeys, "block")
            ),
        );
        warn(
            tally.by_default,
            format!(
                "{} without any height: {} m assumed; put in what is known",
                counted(tally.by_default, "block"),
                options.default_height_m
            ),
        );
    }
}

fn corners_of(footprint: &Footprint) -> impl Iterator<Item = (f64, f64)> + '_ {
    footprint.polygons.iter().flatten().flatten().copied()
}

/// Features that are not in longitude and latitude.
struct Strays {
    /// How many.
    features: usize,
    /// The number of the first of them.
    first: usize,
    /// A corner of it that is no longitude and latitude.
    corner: (f64, f64),
}

impl Strays {
    fn of(footprints: &Footprints) -> Option<Self> {
        let mut found = footprints.features.iter().filter_map(|footprint| {
            let corner = corners_of(footprint).find(|&(x, y)| Geographic::from_degrees(y, x, 0.0).is_err())?;
            Some((footprint.number, corner))
        });
        let (first, corner) = found.next()?;
        Some(Self { features: 1 + found.count(), first, corner })
    }
}

/// The system of a name such as `urn:ogc:def:crs:OGC:1.3:CRS84` or `urn:ogc:def:crs:EPSG::32633`.
fn named_crs(name: &str) -> Option<Crs> {
    let (front, last) = name.rsplit_once([':', '/'])?;
    if last.eq_ignore_ascii_case("CRS84") {
        return Some(Crs::wgs84());
    }
    front.to_ascii_uppercase().contains("EPSG").then(|| Crs::from_epsg(last.parse().ok()?).ok())?
}

fn block(name: &str, outline: &FootprintRings, lift_m: f64, height_m: f64) -> Block {
    let (ring, holes) = outline.about_centre_m();
    let shape = Shape::Prism { outline: ring, holes, height_m };
    Block { lift_m, ..Block::new(name, outline.centre_m(), shape) }
}
