//! Which sizes has a shape, how far may each go, and what shape does a new block begin with?

use super::Shape;
use super::build::{MOST_SIDES, MOST_STAYS, MOST_STEPS, MOST_WINDOWS};
use super::check::{LARGEST_M, LARGEST_RADIUS_M, MOST_COURSE_M, SMALLEST_M};

/// One size of a shape, as a person changes it.
#[derive(Clone, Debug, PartialEq)]
pub struct Dimension {
    /// What it is called, to begin a line: "Width".
    pub label: &'static str,
    /// What it means, in a few words; empty where the label says all.
    pub meaning: &'static str,
    /// What it is counted in.
    pub unit: DimensionUnit,
    /// How much it is.
    pub value: f64,
    /// The least it may be beside the shape's other sizes.
    pub least: f64,
    /// The most it may be beside the shape's other sizes.
    pub most: f64,
}

/// What a size is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DimensionUnit {
    /// Metres.
    Metres,
    /// Whole things.
    Count,
    /// A share of a whole, from 0 to 1.
    Share,
}

/// A size of a shape that can be written to.
struct Size<'s> {
    label: &'static str,
    meaning: &'static str,
    place: Place<'s>,
    least: f64,
    most: f64,
}

enum Place<'s> {
    Metres(&'s mut f64),
    Count(&'s mut u32),
    Share(&'s mut f64),
}

/// The sizes of a shape, in the order of its file; corners of outlines and paths are not among them.
///
/// # Example
/// ```
/// use plumbsight::site::{Shape, dimensions, with_dimension};
/// let house = Shape::Gable { width_m: 12.0, depth_m: 9.0, eaves_m: 4.0, ridge_m: 7.0 };
/// let eaves = &dimensions(&house)[2];
/// assert_eq!((eaves.label, eaves.value, eaves.least, eaves.most), ("Eaves", 4.0, 0.0, 6.99));
/// // Eaves above the ridge would be no roof.
/// let higher = with_dimension(&house, 2, 8.0).unwrap();
/// assert_eq!(higher, Shape::Gable { width_m: 12.0, depth_m: 9.0, eaves_m: 6.99, ridge_m: 7.0 });
/// ```
pub fn dimensions(shape: &Shape) -> Vec<Dimension> {
    let mut shape = shape.clone();
    sizes(&mut shape)
        .into_iter()
        .map(|size| {
            let (unit, value) = match &size.place {
                Place::Metres(value) => (DimensionUnit::Metres, **value),
                Place::Count(count) => (DimensionUnit::Count, f64::from(**count)),
                Place::Share(value) => (DimensionUnit::Share, **value),
            };
            let Size { label, meaning, least, most, .. } = size;
            Dimension { label, meaning, unit, value, least, most }
        })
        .collect()
}

/// The shape with one of its [`dimensions`] set, held to its range; a count is rounded. None where there is no such
/// dimension, or the value is no number.
pub fn with_dimension(shape: &Shape, index: usize, value: f64) -> Option<Shape> {
    let mut shape = shape.clone();
    let size = sizes(&mut shape).into_iter().nth(index).filter(|_| !value.is_nan())?;
    let value = value.max(size.least).min(size.most);
    match size.place {
        Place::Metres(place) | Place::Share(place) => *place = value,
        Place::Count(place) => *place = value.round() as u32,
    }
    Some(shape)
}

/// The size that is the shape's height, with its number among its [`dimensions`]; none of steps, whose height is counted.
///
/// # Example
/// ```
/// use plumbsight::site::{Shape, height_dimension};
/// let house = Shape::Gable { width_m: 7.0, depth_m: 9.0, eaves_m: 4.0, ridge_m: 7.0 };
/// assert_eq!(height_dimension(&house).unwrap().1.label, "Ridge");
/// ```
pub fn height_dimension(shape: &Shape) -> Option<(usize, Dimension)> {
    let sizes = dimensions(shape).into_iter().enumerate();
    sizes.filter(|(_, size)| size.unit == DimensionUnit::Metres).find(|(index, size)| {
        let other_m = 0.5 * (size.least + size.most);
        with_dimension(shape, *index, other_m).is_some_and(|other| other.height_m() == other_m)
    })
}

/// What a shape's form is called in a palette and in the name of a new block: "box", "round tower".
pub const fn form_words(shape: &Shape) -> &'static str {
    match shape {
        Shape::Box { .. } => "box",
        Shape::Prism { .. } => "prism",
        Shape::RoundTaper { .. } => "round tower",
        Shape::PolygonTaper { .. } => "polygonal tower",
        Shape::Dome { .. } => "dome",
        Shape::Gable { .. } => "gabled house",
        Shape::Hip { .. } => "hipped house",
        Shape::Steps { .. } => "steps",
        Shape::Wall { .. } => "wall",
        Shape::Stage { .. } => "stage",
        Shape::Mast { .. } => "mast",
        Shape::Tree { .. } => "tree",
        Shape::Facade { .. } => "facade",
    }
}

/// What gives a picture its scale, or stands in the way of one, by name: a person, a car, a van, a bus; as long, wide and high as
/// they usually are (common practice, no source).
pub fn figures() -> [(&'static str, Shape); 4] {
    let vehicle = |width_m, depth_m, height_m| Shape::Box { width_m, depth_m, height_m };
    [
        ("person", Shape::RoundTaper { foot_radius_m: 0.25, head_radius_m: 0.12, height_m: 1.7 }),
        ("car", vehicle(1.8, 4.5, 1.5)),
        ("van", vehicle(2.0, 5.5, 2.4)),
        ("bus", vehicle(2.55, 12.0, 3.1)),
    ]
}

/// A shape of each form in a size as it is often met, to begin a new block with (common practice, no source).
pub fn palette() -> Vec<Shape> {
    vec![
        Shape::Box { width_m: 10.0, depth_m: 8.0, height_m: 6.0 },
        Shape::Gable { width_m: 10.0, depth_m: 8.0, eaves_m: 5.0, ridge_m: 8.0 },
        Shape::Hip { width_m: 10.0, depth_m: 8.0, eaves_m: 5.0, ridge_m: 8.0, ridge_length_m: 4.0 },
        Shape::Facade {
            width_m: 16.0,
            depth_m: 10.0,
            height_m: 12.0,
            bays: 5,
            storeys: 4,
            opening_share: 0.5,
            reveal_m: 0.2,
            courses_m: 0.0,
            clock_m: 0.0,
            louvred_storeys: 0,
        },
        Shape::RoundTaper { foot_radius_m: 2.5, head_radius_m: 1.5, height_m: 36.0 },
        Shape::PolygonTaper { sides: 8, foot_across_m: 6.0, head_across_m: 5.0, height_m: 24.0 },
        Shape::Dome { radius_m: 5.0, height_m: 4.0 },
        Shape::Mast {
            foot_radius_m: 0.3,
            head_radius_m: 0.2,
            height_m: 40.0,
            stays: 3,
            stay_heights_m: vec![18.0, 36.0],
            stay_radius_m: 16.0,
        },
        Shape::Prism {
            outline: vec![(-6.0, -4.0), (6.0, -4.0), (6.0, 0.0), (0.0, 4.0), (-6.0, 4.0)],
            holes: Vec::new(),
            height_m: 6.0,
        },
        Shape::Wall { path: vec![(-6.0, 0.0), (6.0, 0.0)], thickness_m: 0.4, height_m: 2.0 },
        Shape::Steps { width_m: 1.5, going_m: 0.28, rise_m: 0.17, count: 12 },
        Shape::Stage { width_m: 4.0, depth_m: 2.5, floor_m: 4.0, rail_m: 1.1 },
        Shape::Tree { height_m: 9.0, crown_radius_m: 3.0, crown_base_m: 2.5, trunk_radius_m: 0.25, bare: false },
    ]
}

fn metres<'s>(label: &'static str, meaning: &'static str, value: &'s mut f64, least: f64, most: f64) -> Size<'s> {
    Size { label, meaning, place: Place::Metres(value), least, most: most.max(least) }
}

fn count<'s>(label: &'static str, meaning: &'static str, value: &'s mut u32, least: u32, most: u32) -> Size<'s> {
    Size { label, meaning, place: Place::Count(value), least: least.into(), most: most.max(least).into() }
}

const ACROSS: &str = "across the way it faces";
const ALONG: &str = "along the way it faces";
const TO_THE_TOP: &str = "from base to top";

fn plan<'s>(width_m: &'s mut f64, depth_m: &'s mut f64) -> [Size<'s>; 2] {
    [metres("Width", ACROSS, width_m, SMALLEST_M, LARGEST_M), metres("Depth", ALONG, depth_m, SMALLEST_M, LARGEST_M)]
}

/// Every size with the range that the checks of a site file allow it, in whole centimetres.
fn sizes(shape: &mut Shape) -> Vec<Size<'_>> {
    let height = |value| metres("Height", TO_THE_TOP, value, SMALLEST_M, LARGEST_M);
    match shape {
        Shape::Box { width_m, depth_m, height_m } => {
            plan(width_m, depth_m).into_iter().chain([height(height_m)]).collect()
        }
        Shape::Prism { height_m, .. } => vec![height(height_m)],
        Shape::RoundTaper { foot_radius_m, head_radius_m, height_m } => vec![
            metres("Radius at the base", "", foot_radius_m, SMALLEST_M, LARGEST_RADIUS_M),
            metres("Radius at the top", "0 for a cone", head_radius_m, 0.0, LARGEST_RADIUS_M),
            height(height_m),
        ],
        Shape::PolygonTaper { sides, foot_across_m, head_across_m, height_m } => vec![
            count("Sides", "one of them faces the heading", sides, 3, MOST_SIDES),
            metres("Across the base", "from a side to the side opposite", foot_across_m, SMALLEST_M, LARGEST_M),
            metres("Across the top", "0 for a pyramid", head_across_m, 0.0, LARGEST_M),
            height(height_m),
        ],
        Shape::Dome { radius_m, height_m } => {
            vec![metres("Radius", "at the base", radius_m, SMALLEST_M, LARGEST_RADIUS_M), height(height_m)]
        }
        Shape::Gable { width_m, depth_m, eaves_m, ridge_m } => {
            plan(width_m, depth_m).into_iter().chain(roof(eaves_m, ridge_m)).collect()
        }
        Shape::Hip { width_m, depth_m, eaves_m, ridge_m, ridge_length_m } => {
            let (widest_m, longest_m) = (width_m.max(SMALLEST_M), ridge_length_m.max(SMALLEST_M));
            let [mut width, depth] = plan(width_m, depth_m);
            width.least = longest_m.min(LARGEST_M);
            let length = metres("Length of the ridge", "0 for a pyramid", ridge_length_m, 0.0, widest_m);
            [width, depth].into_iter().chain(roof(eaves_m, ridge_m)).chain([length]).collect()
        }
        Shape::Steps { width_m, going_m, rise_m, count: steps } => {
            let flight = |step_m: f64| (LARGEST_M / step_m.max(SMALLEST_M)).floor().min(f64::from(MOST_STEPS)) as u32;
            let most_steps = flight(going_m.max(*rise_m)).max(1);
            let longest_m = (LARGEST_M / f64::from((*steps).max(1))).min(100.0);
            vec![
                metres("Width", ACROSS, width_m, SMALLEST_M, LARGEST_M),
                metres("Going", "depth of one tread", going_m, SMALLEST_M, longest_m),
                metres("Rise", "height of one step", rise_m, SMALLEST_M, longest_m),
                count("Steps", "how many", steps, 1, most_steps),
            ]
        }
        Shape::Wall { thickness_m, height_m, .. } => {
            vec![metres("Thickness", "", thickness_m, SMALLEST_M, 100.0), height(height_m)]
        }
        Shape::Stage { width_m, depth_m, floor_m, rail_m } => plan(width_m, depth_m)
            .into_iter()
            .chain([
                metres("Floor", "height of what one stands on", floor_m, SMALLEST_M, LARGEST_M),
                metres("Guard rail", "above the floor; 0 for none", rail_m, 0.0, 10.0),
            ])
            .collect(),
        Shape::Mast { foot_radius_m, head_radius_m, height_m, stays, stay_heights_m, stay_radius_m } => {
            let lowest_m = stay_heights_m.iter().copied().fold(SMALLEST_M, f64::max).min(LARGEST_M);
            let highest_m = height_m.max(SMALLEST_M);
            let nearest_m = if *stays > 0 && !stay_heights_m.is_empty() { SMALLEST_M } else { 0.0 };
            // Stays that already have a height want something to be anchored at.
            let most_stays = if stay_heights_m.is_empty() || *stay_radius_m >= SMALLEST_M { MOST_STAYS } else { 0 };
            let mut sizes = vec![
                metres("Radius at the base", "", foot_radius_m, 0.01, 100.0),
                metres("Radius at the top", "0 for a point", head_radius_m, 0.0, 100.0),
                metres("Height", TO_THE_TOP, height_m, lowest_m, LARGEST_M),
                count("Stays", "at each height, evenly about the mast", stays, 0, most_stays),
                metres("Anchors of the stays", "from the axis", stay_radius_m, nearest_m, LARGEST_M),
            ];
            for height_m in stay_heights_m {
                sizes.push(metres("Stays leave at", "height on the mast", height_m, SMALLEST_M, highest_m));
            }
            sizes
        }
        Shape::Tree { height_m, crown_radius_m, crown_base_m, trunk_radius_m, bare: _ } => {
            let (top_m, base_m) = (*height_m, *crown_base_m);
            let (widest_m, thickest_m) = (*crown_radius_m, *trunk_radius_m);
            vec![
                metres("Height", "to the top of the crown", height_m, base_m + SMALLEST_M, 200.0),
                metres("Radius of the crown", "", crown_radius_m, thickest_m.max(SMALLEST_M), 100.0),
                metres("Crown begins at", "height above the ground", crown_base_m, 0.0, below(top_m)),
                metres("Radius of the trunk", "", trunk_radius_m, SMALLEST_M, widest_m.min(20.0)),
            ]
        }
        Shape::Facade {
            width_m,
            depth_m,
            height_m,
            bays,
            storeys,
            opening_share,
            reveal_m,
            courses_m,
            clock_m,
            louvred_storeys,
        } => {
            let (deep_m, back_m) = (*depth_m, *reveal_m);
            let (most_louvred, largest_clock_m) = (*storeys, width_m.min(*height_m));
            let [width, mut depth] = plan(width_m, depth_m);
            depth.least = (back_m + SMALLEST_M).max(SMALLEST_M);
            let share = Size {
                label: "Share of window",
                meaning: "of each bay and storey",
                place: Place::Share(opening_share),
                least: 0.05,
                most: 0.95,
            };
            vec![
                width,
                depth,
                height(height_m),
                count("Bays", "windows in a row", bays, 0, MOST_WINDOWS),
                count("Storeys", "rows of windows", storeys, 0, MOST_WINDOWS),
                share,
                metres("Reveal", "how far the panes stand back", reveal_m, 0.0, below(deep_m)),
                metres(
                    "String courses",
                    "how far they stand out at each storey; 0 for none",
                    courses_m,
                    0.0,
                    MOST_COURSE_M,
                ),
                metres("Clock", "its diameter, in the top storey; 0 for none", clock_m, 0.0, largest_clock_m),
                count("Louvred storeys", "from the top", louvred_storeys, 0, most_louvred),
            ]
        }
    }
}

fn roof<'s>(eaves_m: &'s mut f64, ridge_m: &'s mut f64) -> [Size<'s>; 2] {
    let (low_m, high_m) = (*eaves_m, *ridge_m);
    [
        metres("Eaves", "0 for a roof alone", eaves_m, 0.0, below(high_m)),
        metres("Ridge", "from base to top", ridge_m, (low_m + SMALLEST_M).max(SMALLEST_M), LARGEST_M),
    ]
}

/// A centimetre below.
fn below(length_m: f64) -> f64 {
    (((length_m - SMALLEST_M) * 100.0).round() / 100.0).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::{Block, Severity, Site, check_site, parse_site};

    fn site_of(shape: Shape) -> Site {
        let mut site = parse_site("(format: 1, name: \"x\")", "x").expect("good");
        site.blocks.push(Block::new("one", (0.0, 0.0), shape));
        site
    }

    #[test]
    fn the_palette_has_each_form_once_and_each_is_sound() {
        let shapes = palette();
        let forms: std::collections::BTreeSet<&str> = shapes.iter().map(form_words).collect();
        // The forms that `Shape` has, counted in its source.
        assert_eq!((forms.len(), shapes.len()), (13, 13));
        for shape in shapes {
            let faults = check_site(&site_of(shape.clone()));
            assert!(faults.iter().all(|fault| fault.severity == Severity::Warning), "{faults:?}");
            assert!(faults.iter().all(|fault| fault.way.len() < 2), "{shape:?}: {faults:?}");
        }
    }

    #[test]
    fn each_size_may_go_as_far_as_its_range_says_and_no_farther() {
        let errors = |shape: &Shape| {
            let mut found = check_site(&site_of(shape.clone()));
            found.retain(|finding| finding.severity == Severity::Error);
            found
        };
        for shape in palette() {
            for (index, size) in dimensions(&shape).iter().enumerate() {
                for value in [size.least, size.most, f64::NEG_INFINITY, f64::INFINITY, 0.5 * (size.least + size.most)] {
                    let changed = with_dimension(&shape, index, value).expect("a size");
                    assert!(errors(&changed).is_empty(), "{} {value}: {:?}", size.label, errors(&changed));
                    let now = dimensions(&changed)[index].value;
                    assert!((size.least..=size.most).contains(&now), "{} {now}", size.label);
                    // The others stay.
                    let others = |shape: &Shape| {
                        let values = dimensions(shape).into_iter().map(|size| size.value).enumerate();
                        values.filter(|(other, _)| *other != index).collect::<Vec<_>>()
                    };
                    assert_eq!(others(&changed), others(&shape));
                }
                assert_eq!(with_dimension(&shape, index, size.value).as_ref(), Some(&shape));
                assert!(with_dimension(&shape, index, f64::NAN).is_none());
            }
            assert!(with_dimension(&shape, dimensions(&shape).len(), 1.0).is_none());
        }
    }
}
