//! Of which blocks is each kind of subject made?
//!
//! What was asked is kept exactly: no part rises above the height, and none is wider than the width at the base, so that the
//! outline is as high and as wide as was said. Details are shares of the whole; those that would be smaller than a hand are left
//! out.

use super::answers::{NewKind, NewSite, Side};
use super::draft::{Draft, Drawn, Turn, number, sized};

/// Details that would be smaller are left out.
const SMALLEST_M: f64 = 0.08;
/// How far a door, a louvre or a dark opening stands out of its wall, so that it is seen.
const PROUD_M: f64 = 0.03;

/// The most string courses of a tower.
const MOST_COURSES: u32 = 5;

/// How much room a subject takes in plan, with what belongs to it, from its middle.
#[derive(Clone, Copy, Debug)]
pub(super) struct Extent {
    /// To the right.
    pub(super) right_m: f64,
    /// To the left.
    pub(super) left_m: f64,
    /// To the front.
    pub(super) front_m: f64,
    /// To the back.
    pub(super) back_m: f64,
}

/// Writes the subject's blocks and says how much room they take.
pub(super) fn subject(new: &NewSite, draft: &mut Draft) -> Extent {
    match new.kind {
        NewKind::Tower => tower(new, draft),
        NewKind::Chimney => chimney(new, draft),
        NewKind::Mast => mast(new, draft),
        NewKind::BellTower => bell_tower(new, draft),
        NewKind::Facade => facade(new, draft),
        NewKind::Church => church(new, draft),
    }
}

fn about(half_m: f64) -> Extent {
    Extent { right_m: half_m, left_m: half_m, front_m: half_m, back_m: half_m }
}

/// A part of the subject at a place.
fn part(name: impl Into<String>, shape: String) -> Drawn {
    Drawn { name: name.into(), subject: true, turn: Turn::Along(0.0), shape, ..Drawn::default() }
}

fn dark(part: Drawn) -> Drawn {
    Drawn { finish: "Dark", ..part }
}

fn grey(part: Drawn) -> Drawn {
    Drawn { finish: "Grey", ..part }
}

fn box_of(width_m: f64, depth_m: f64, height_m: f64) -> String {
    format!("Box(width_m: {}, depth_m: {}, height_m: {})", number(width_m), number(depth_m), number(height_m))
}

/// A square body, tapering where its top is narrower.
fn square_body(base_m: f64, top_m: f64, height_m: f64) -> String {
    if base_m == top_m {
        return box_of(base_m, base_m, height_m);
    }
    format!(
        "PolygonTaper(sides: 4, foot_across_m: {}, head_across_m: {}, height_m: {})",
        number(base_m),
        number(top_m),
        number(height_m)
    )
}

/// A gabled body or roof whose ridge runs to the front, where it is turned by a quarter.
fn gable(long_m: f64, wide_m: f64, eaves_m: f64, ridge_m: f64) -> String {
    format!(
        "Gable(width_m: {}, depth_m: {}, eaves_m: {}, ridge_m: {})",
        number(long_m),
        number(wide_m),
        number(eaves_m),
        number(ridge_m)
    )
}

/// A bar that runs right through a square tower, so that it shows on two of its sides.
struct Bar<'a> {
    name: &'a str,
    /// How wide the tower is where the bar begins.
    wall_m: f64,
    /// How far the bar may stand out to the sides: no farther than the tower's base does.
    aside_m: f64,
    /// How far it stands out.
    out_m: f64,
    /// Its height over the ground.
    lift_m: f64,
    wide_m: f64,
    tall_m: f64,
    finish: &'static str,
    /// Whether the picture is taken from the right or the left: what the other bar shows is hidden from there, and no part of the
    /// subject.
    from_aside: bool,
}

/// Whether the picture is taken from the right or the left.
fn from_aside(new: &NewSite) -> bool {
    matches!(new.open.to_stand_on(), Some(Side::Right | Side::Left))
}

/// Bars through a tower from front to back, and from side to side where they may stand out there.
fn bars(draft: &mut Draft, bar: &Bar<'_>) {
    let aside_m = bar.out_m.min(bar.aside_m);
    let ways = [(0.0, "front and back", bar.out_m), (90.0, "left and right", aside_m)];
    for (turn_deg, way, out_m) in ways {
        if out_m < 0.004 {
            continue;
        }
        let long_m = ((bar.wall_m + 2.0 * out_m) * 1e3).floor() / 1e3;
        let through = part(format!("{}, {way}", bar.name), box_of(bar.wide_m, long_m, bar.tall_m));
        let subject = bar.from_aside == (turn_deg != 0.0);
        draft.block(Drawn { subject, turn: Turn::Along(turn_deg), lift_m: bar.lift_m, finish: bar.finish, ..through });
    }
}

/// A door in a wall that stands so far in front of the middle.
fn door(draft: &mut Draft, wall_m: f64, (width_m, height_m): (f64, f64)) {
    if width_m < SMALLEST_M || height_m < SMALLEST_M {
        return;
    }
    let depth_m = sized((0.3 * wall_m).min(0.6));
    let at = (0.0, sized(wall_m + PROUD_M) - 0.5 * depth_m);
    draft.block(dark(Drawn { at, ..part("door", box_of(sized(width_m), depth_m, sized(height_m))) }));
}

fn tower(new: &NewSite, draft: &mut Draft) -> Extent {
    let (height_m, base_m, top_m) = (new.height_m, new.base_m, new.top_m);
    let battlement_m = sized((0.026 * height_m).clamp(0.05, 1.0));
    let body_m = height_m - battlement_m;
    draft.comment(
        "The tower. Its battlements stand on it and reach the height that was asked for; those of the side that the picture is \
         taken from are part of the subject, the others would only be counted as hidden.",
    );
    draft.block(part("tower", square_body(base_m, top_m, body_m)));
    let storeys = new.storeys.unwrap_or_else(|| new.kind.usual_storeys(height_m));
    let storey_m = body_m / f64::from(storeys);
    let across = |z_m: f64| base_m + (top_m - base_m) * z_m / body_m;
    let tooth_m = sized(top_m / 5.0);
    if tooth_m >= 0.01 {
        let thick_m = sized(0.4 * tooth_m).max(0.01);
        let (along_m, out_m) = (0.5 * (top_m - tooth_m), 0.5 * (top_m - thick_m));
        let around: [(&str, f64, f64); 8] = [
            ("front left", -1.0, 1.0),
            ("front", 0.0, 1.0),
            ("front right", 1.0, 1.0),
            ("right", 1.0, 0.0),
            ("back right", 1.0, -1.0),
            ("back", 0.0, -1.0),
            ("back left", -1.0, -1.0),
            ("left", -1.0, 0.0),
        ];
        let taken_from = new.open.to_stand_on();
        for (place, right, ahead) in around {
            let subject = match taken_from {
                Some(Side::Front) => ahead > 0.0,
                Some(Side::Behind) => ahead < 0.0,
                Some(Side::Right) => right > 0.0,
                Some(Side::Left) => right < 0.0,
                None => true,
            };
            // Along the wall that it stands on: front and back, else left and right.
            let (size, at) = if ahead != 0.0 {
                ((tooth_m, thick_m), (right * along_m, ahead * out_m))
            } else {
                ((thick_m, tooth_m), (right * out_m, 0.0))
            };
            let tooth = part(format!("battlement, {place}"), box_of(size.0, size.1, battlement_m));
            draft.block(Drawn { subject, at, lift_m: body_m, ..tooth });
        }
    }
    draft.comment(
        "Guess: a door, and windows in each storey: bars that run right through, so that each shows on two sides.",
    );
    door(draft, 0.5 * base_m, ((0.22 * base_m).min(1.6), (0.42 * storey_m).min(2.6)));
    for storey in 0..storeys {
        let lift_m = sized((f64::from(storey) + 0.6) * storey_m);
        let wall_m = across(lift_m);
        let (width_m, tall_m) = (sized((0.16 * wall_m).min(1.1)), sized((0.28 * storey_m).min(1.9)));
        if width_m >= SMALLEST_M && tall_m >= SMALLEST_M {
            let name = format!("window {}", storey + 1);
            bars(
                draft,
                &Bar {
                    name: &name,
                    wall_m,
                    aside_m: 0.5 * (base_m - wall_m),
                    out_m: PROUD_M,
                    lift_m,
                    wide_m: width_m,
                    tall_m,
                    finish: "Dark",
                    from_aside: from_aside(new),
                },
            );
        }
    }
    courses(draft, storeys, storey_m, (base_m, top_m, body_m));
    about(0.5 * base_m)
}

/// String courses between the storeys of a tower that tapers: they stand out, but no farther than its base does.
fn courses(draft: &mut Draft, storeys: u32, storey_m: f64, (base_m, top_m, body_m): (f64, f64, f64)) {
    let course_m = sized((0.012 * body_m).clamp(0.02, 0.3));
    // Not more than a few: each hides a strip of the wall above it from below.
    let every = storeys.div_ceil(MOST_COURSES + 1);
    let bands: Vec<(u32, f64, f64)> = (1..storeys)
        .filter(|storey| storey % every == 0)
        .filter_map(|storey| {
            let lift_m = sized(f64::from(storey) * storey_m);
            let across_m = base_m + (top_m - base_m) * lift_m / body_m;
            let out_m = (0.012 * base_m).min(0.15).min(0.5 * (base_m - across_m));
            (out_m >= 0.01).then_some((storey, lift_m, across_m + 2.0 * out_m))
        })
        .collect();
    if bands.is_empty() {
        return;
    }
    draft.comment(
        "Guess: string courses between the storeys. Their corners are plumb, while the tower's own edges taper.",
    );
    for (storey, lift_m, across_m) in bands {
        // Rounded down, so that none stands out beyond the base.
        let across_m = (across_m * 1e3).floor() / 1e3;
        draft.block(Drawn { lift_m, ..part(format!("string course {storey}"), box_of(across_m, across_m, course_m)) });
    }
}

fn round_taper(base_m: f64, top_m: f64, height_m: f64) -> String {
    format!(
        "RoundTaper(foot_radius_m: {}, head_radius_m: {}, height_m: {})",
        number(0.5 * base_m),
        number(0.5 * top_m),
        number(height_m)
    )
}

fn chimney(new: &NewSite, draft: &mut Draft) -> Extent {
    let (height_m, base_m, top_m) = (new.height_m, new.base_m, new.top_m);
    draft.comment("The chimney: round, its radii at the foot and at the head.");
    let round = |part: Drawn| Drawn { turn: Turn::Any, ..part };
    draft.block(round(part("chimney", round_taper(base_m, top_m, height_m))));
    let bands: Vec<(f64, f64, f64)> = [(0.3, 0.006), (0.5, 0.006), (0.7, 0.006), (0.86, 0.01), (0.94, 0.03)]
        .into_iter()
        .filter_map(|(at, tall)| {
            let lift_m = sized(at * height_m);
            let across_m = base_m + (top_m - base_m) * lift_m / height_m;
            let out_m = (0.05 * top_m).min(0.25).min(0.005 * height_m).min(0.5 * (base_m - across_m));
            (out_m >= 0.01).then(|| (lift_m, across_m + 2.0 * out_m, sized(tall * height_m).max(0.02)))
        })
        .collect();
    if !bands.is_empty() {
        draft.comment("Guess: iron bands, and the thicker head under the mouth.");
    }
    for (number, (lift_m, across_m, tall_m)) in bands.into_iter().enumerate() {
        let across_m = (across_m * 1e3).floor() / 1e3;
        let band = round(part(format!("band {}", number + 1), round_taper(across_m, across_m, tall_m)));
        draft.block(grey(Drawn { lift_m, ..band }));
    }
    about(0.5 * base_m)
}

fn mast(new: &NewSite, draft: &mut Draft) -> Extent {
    let (height_m, base_m, top_m) = (new.height_m, new.base_m, new.top_m);
    let form = |foot_m: f64, head_m: f64, stays: &str| {
        format!(
            "Mast(foot_radius_m: {}, head_radius_m: {}, height_m: {}{stays})",
            number(foot_m),
            number(head_m),
            number(height_m)
        )
    };
    draft.comment("The mast itself.");
    draft.block(Drawn { turn: Turn::Any, ..part("mast", form(0.5 * base_m, 0.5 * top_m, "")) });
    let spread_m = sized((0.5 * height_m).max(base_m));
    let heights: Vec<String> = [0.33, 0.66, 0.95].iter().map(|share| number(sized(share * height_m))).collect();
    let stays = format!(", stays: 3, stay_heights_m: [{}], stay_radius_m: {}", heights.join(", "), number(spread_m));
    draft.comment(
        "Guess: three stays at three heights. They hang on a thin core inside the mast and are no part of the subject, or the \
         picture would have to hold their anchors as well.",
    );
    // The first stay leads away behind the mast, so that none runs to the camera.
    let behind_deg = new.open.to_stand_on().map_or(0.0, Side::turn_deg) + 180.0;
    let core_m = (0.02 * top_m).max(0.005);
    draft.block(dark(Drawn {
        subject: false,
        turn: Turn::Toward(behind_deg),
        ..part("stays", form(core_m, core_m, &stays))
    }));
    about(0.5 * base_m)
}

fn bell_tower(new: &NewSite, draft: &mut Draft) -> Extent {
    let (height_m, base_m, top_m) = (new.height_m, new.base_m, new.top_m);
    let shaft_m = sized(0.56 * height_m);
    let cap_at_m = sized(0.78 * height_m);
    let belfry_m = cap_at_m - shaft_m;
    draft.comment("The bell tower: its shaft, the belfry on it, and the cap up to the height that was asked for.");
    draft.block(part("shaft", square_body(base_m, top_m, shaft_m)));
    draft.block(Drawn { lift_m: shaft_m, ..part("belfry", box_of(top_m, top_m, belfry_m)) });
    let cap = format!(
        "PolygonTaper(sides: 4, foot_across_m: {}, head_across_m: 0, height_m: {})",
        number(top_m),
        number(height_m - cap_at_m)
    );
    draft.block(grey(Drawn { lift_m: cap_at_m, ..part("cap", cap) }));
    let out_m = ((0.03 * top_m).min(0.25)).min(0.5 * (base_m - top_m));
    if out_m >= 0.01 {
        let across_m = ((top_m + 2.0 * out_m) * 1e3).floor() / 1e3;
        let tall_m = sized((0.012 * height_m).max(0.02));
        draft.comment("Guess: a string course under the belfry, and the cornice under the cap.");
        for (name, lift_m) in [("string course", shaft_m), ("cornice", cap_at_m - tall_m)] {
            draft.block(Drawn { lift_m, ..part(name, box_of(across_m, across_m, tall_m)) });
        }
    }
    let (wide_m, tall_m) = (sized(0.42 * top_m), sized(0.6 * belfry_m));
    if wide_m >= SMALLEST_M && tall_m >= SMALLEST_M {
        let sill_m = shaft_m + sized(0.2 * belfry_m);
        draft.comment(
            "Guess: the sound openings, dark bars that run right through the belfry, and the louvres across them.",
        );
        let aside_m = 0.5 * (base_m - top_m);
        let opening = Bar {
            name: "sound opening",
            wall_m: top_m,
            aside_m: aside_m.min(PROUD_M),
            out_m: PROUD_M,
            lift_m: sill_m,
            wide_m,
            tall_m,
            finish: "Dark",
            from_aside: from_aside(new),
        };
        bars(draft, &opening);
        let slats = 5;
        let step_m = tall_m / f64::from(slats);
        for slat in 0..slats {
            let lift_m = sill_m + sized((f64::from(slat) + 0.2) * step_m);
            let (name, tall_m) = (format!("louvre {}", slat + 1), sized((0.35 * step_m).max(0.01)));
            let louvre = Bar { name: &name, aside_m, out_m: 3.0 * PROUD_M, lift_m, tall_m, finish: "Grey", ..opening };
            bars(draft, &louvre);
        }
    }
    draft.comment("Guess: a door, and a slit in each storey of the shaft.");
    door(draft, 0.5 * base_m, ((0.24 * base_m).min(1.7), (0.12 * shaft_m).min(2.8)));
    let slit = (sized((0.09 * top_m).min(0.6)), sized(0.08 * shaft_m));
    for (number, share) in [0.3, 0.55, 0.8].into_iter().enumerate() {
        let lift_m = sized(share * shaft_m);
        let wall_m = base_m + (top_m - base_m) * lift_m / shaft_m;
        if slit.0 >= SMALLEST_M && slit.1 >= SMALLEST_M {
            let name = format!("slit {}", number + 1);
            bars(
                draft,
                &Bar {
                    name: &name,
                    wall_m,
                    aside_m: 0.5 * (base_m - wall_m),
                    out_m: PROUD_M,
                    lift_m,
                    wide_m: slit.0,
                    tall_m: slit.1,
                    finish: "Dark",
                    from_aside: from_aside(new),
                },
            );
        }
    }
    let (long_m, wide_m) = (sized(0.75 * height_m), sized(1.5 * base_m));
    draft.comment("Guess: its church on the far side of it, no part of the subject.");
    let nave = part("nave", gable(long_m, wide_m, sized(0.2 * height_m), sized(0.36 * height_m)));
    // Away from whoever takes the picture, wherever that is.
    let (near_m, half_m) = (0.5 * base_m, 0.5 * wide_m);
    let aside = Extent { right_m: half_m, left_m: half_m, front_m: half_m, back_m: half_m };
    let (at, turn_deg, extent) = match new.open.to_stand_on() {
        Some(Side::Front) | None => ((0.0, -0.5 * long_m), 90.0, Extent { front_m: near_m, back_m: long_m, ..aside }),
        Some(Side::Behind) => ((0.0, 0.5 * long_m), 90.0, Extent { front_m: long_m, back_m: near_m, ..aside }),
        Some(Side::Right) => ((-0.5 * long_m, 0.0), 0.0, Extent { right_m: near_m, left_m: long_m, ..aside }),
        Some(Side::Left) => ((0.5 * long_m, 0.0), 0.0, Extent { right_m: long_m, left_m: near_m, ..aside }),
    };
    draft.block(Drawn { subject: false, at, turn: Turn::Along(turn_deg), ..nave });
    extent
}

fn facade(new: &NewSite, draft: &mut Draft) -> Extent {
    let (height_m, width_m) = (new.height_m, new.base_m);
    let depth_m = facade_depth_m(width_m);
    let cornice_m = sized((0.035 * height_m).clamp(0.05, 0.7));
    let wall_m = height_m - cornice_m;
    let storeys = new.storeys.unwrap_or_else(|| new.kind.usual_storeys(height_m));
    let bays = usual_bays(width_m);
    draft.comment("The front, with its bays (guess: one in about 2.6 m) and storeys. The cornice reaches the height that was asked for.");
    let reveal_m = sized((0.02 * width_m).clamp(0.01, 0.22));
    draft.block(Drawn {
        turn: Turn::Toward(0.0),
        ..part(
            "front",
            format!(
                "Facade(width_m: {}, depth_m: {}, height_m: {}, bays: {bays}, storeys: {storeys}, opening_share: 0.48, \
             reveal_m: {})",
                number(width_m),
                number(depth_m),
                number(wall_m),
                number(reveal_m)
            ),
        )
    });
    let out_m = sized((0.03 * height_m).clamp(0.03, 0.5));
    let forward = |out_m: f64| (0.0, 0.5 * out_m);
    let cornice = part("cornice", box_of(width_m, depth_m + out_m, cornice_m));
    draft.block(Drawn { lift_m: wall_m, at: forward(out_m), ..cornice });
    let storey_m = wall_m / f64::from(storeys);
    if storeys > 1 {
        let band_m = sized((0.08 * storey_m).max(0.02));
        draft.comment("Guess: a band over the ground floor, and the door.");
        let band = part("band", box_of(width_m, depth_m + 0.3 * out_m, band_m));
        draft.block(Drawn { lift_m: sized(storey_m) - 0.5 * band_m, at: forward(0.3 * out_m), ..band });
    }
    door(
        draft,
        0.5 * depth_m,
        ((0.34 * width_m / f64::from(bays)).max(0.12 * width_m).min(1.8), (0.74 * storey_m).min(3.2)),
    );
    Extent { right_m: 0.5 * width_m, left_m: 0.5 * width_m, front_m: 0.5 * depth_m, back_m: 0.5 * depth_m }
}

/// How many bays a house of this width has: an odd number, so that its door stands in the middle of one.
pub(super) fn usual_bays(width_m: f64) -> u32 {
    2 * ((width_m / 2.6 - 1.0) / 2.0).round().clamp(0.0, 30.0) as u32 + 1
}

/// How deep a house of this width is.
pub(super) fn facade_depth_m(width_m: f64) -> f64 {
    sized((0.7 * width_m).clamp(1.0, 14.0))
}

fn church(new: &NewSite, draft: &mut Draft) -> Extent {
    let (height_m, width_m) = (new.height_m, new.base_m);
    let tower_m = sized(0.27 * width_m);
    let apart_m = width_m - tower_m;
    let gap_m = width_m - 2.0 * tower_m;
    let shaft_m = sized(0.68 * height_m);
    draft.comment(
        "The front: two towers with their caps up to the height that was asked for, and the gable between them.",
    );
    let sides = [("left", -0.5 * apart_m), ("right", 0.5 * apart_m)];
    for (side, right_m) in sides {
        let at = (right_m, 0.0);
        draft.block(Drawn { at, ..part(format!("{side} tower"), box_of(tower_m, tower_m, shaft_m)) });
        let cap = format!(
            "PolygonTaper(sides: 4, foot_across_m: {}, head_across_m: 0, height_m: {})",
            number(tower_m),
            number(height_m - shaft_m)
        );
        draft.block(grey(Drawn { at, lift_m: shaft_m, ..part(format!("{side} cap"), cap) }));
    }
    let (eaves_m, thick_m) = (sized(0.36 * height_m), sized(0.3 * tower_m));
    let ridge_m = sized((eaves_m + 0.6 * gap_m).min(0.62 * height_m).max(0.45 * height_m));
    let face_m = sized(0.42 * tower_m);
    let front = part("gable front", gable(thick_m, gap_m, eaves_m, ridge_m));
    draft.block(Drawn { at: (0.0, face_m - 0.5 * thick_m), turn: Turn::Along(90.0), ..front });
    draft.comment("Guess: the portal and the windows over it, and the openings of the towers.");
    let out_m = sized(2.0 * PROUD_M + 0.5 * thick_m);
    let pointed = |name: &str, right_m: f64, lift_m: f64, wide_m: f64, eaves_m: f64, ridge_m: f64| {
        let shape = gable(out_m, sized(wide_m), sized(eaves_m), sized(ridge_m));
        let at = (sized(right_m), face_m + PROUD_M - 0.5 * out_m);
        dark(Drawn { at, lift_m: sized(lift_m), turn: Turn::Along(90.0), ..part(name, shape) })
    };
    if 0.11 * gap_m >= SMALLEST_M {
        draft.block(pointed("portal", 0.0, 0.0, 0.34 * gap_m, 0.1 * height_m, 0.155 * height_m));
        for (name, share) in [("left lancet", -0.26), ("middle lancet", 0.0), ("right lancet", 0.26)] {
            let taller = if share == 0.0 { 1.25 } else { 1.0 };
            let (eaves_m, ridge_m) = (0.13 * height_m * taller, 0.16 * height_m * taller);
            draft.block(pointed(name, share * gap_m, 0.2 * height_m, 0.13 * gap_m, eaves_m, ridge_m));
        }
    }
    let wide_m = sized(0.34 * tower_m);
    if wide_m >= SMALLEST_M {
        for (side, right_m) in sides {
            for (name, lift, tall) in [("window", 0.27, 0.09), ("sound opening", 0.5, 0.13)] {
                let (lift_m, tall_m) = (sized(lift * height_m), sized(tall * height_m));
                let opening = box_of(wide_m, sized(tower_m + 2.0 * PROUD_M), tall_m);
                draft.block(dark(Drawn { at: (right_m, 0.0), lift_m, ..part(format!("{side} {name}"), opening) }));
            }
            let (lift_m, tall_m) = (sized(0.45 * height_m), sized((0.008 * height_m).max(0.02)));
            let course = box_of(tower_m, sized(tower_m + 4.0 * PROUD_M), tall_m);
            draft.block(grey(Drawn { at: (right_m, 0.0), lift_m, ..part(format!("{side} string course"), course) }));
        }
    }
    let (long_m, wide_m) = (sized(1.5 * width_m), sized(gap_m + 1.2 * tower_m));
    draft.comment("Guess: the nave behind it, no part of the subject.");
    let nave = part("nave", gable(long_m, wide_m, sized(0.28 * height_m), sized(0.95 * ridge_m)));
    // It begins at the back of the gable front, so that it holds what that hides of the towers.
    let at = (0.0, face_m - thick_m - 0.5 * long_m);
    draft.block(Drawn { subject: false, at, turn: Turn::Along(90.0), ..nave });
    Extent { right_m: 0.5 * width_m, left_m: 0.5 * width_m, front_m: 0.5 * tower_m, back_m: long_m }
}
