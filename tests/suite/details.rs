//! Is the lowest detail what a ruler on the subject would find?
//!
//! The definition, as README and the schema give it, worked out once more: of all of the subject's surface that is seen in the
//! frame, flat faces seen at less than 30° left out and round ones turned about the plumb to face the camera, the fewest pixels
//! a metre in any direction. A point is moved half a millimetre each way along its face, and both ends are projected through a
//! pinhole written out here.

use plumbsight::pose::{WorldPoint, WorldVector};
use plumbsight::site::{Aim, Stance};
use plumbsight::survey::{MeasureSettings, Measured, Survey};

use crate::support::random::Random;
use crate::support::surveyed::{stance, subject, surveyed_blocks};

/// A lens that draws straight, level from side to side.
struct Pinhole {
    eye: WorldPoint,
    heading: f64,
    pitch: f64,
    focal_px: f64,
    /// Half its width and height.
    half_px: (f64, f64),
}

impl Pinhole {
    fn of(measured: &Measured) -> Self {
        let (camera, pose) = (&measured.standing.camera, &measured.standing.pose);
        assert!(camera.draws_straight() && camera.rise_mm == 0.0 && camera.shift_mm == 0.0);
        assert_eq!(pose.attitude.roll.radians(), 0.0);
        let (width_px, height_px) = (f64::from(camera.frame.width_px), f64::from(camera.frame.height_px));
        Self {
            eye: pose.eye,
            heading: pose.attitude.heading.radians(),
            pitch: pose.attitude.pitch.radians(),
            focal_px: camera.focal_mm * width_px / camera.frame.width_mm,
            half_px: (0.5 * width_px, 0.5 * height_px),
        }
    }

    /// Pixels right and up of the frame's middle.
    fn place(&self, point: &WorldPoint) -> Option<(f64, f64)> {
        let ((sin_h, cos_h), (sin_p, cos_p)) = (self.heading.sin_cos(), self.pitch.sin_cos());
        let away = point - self.eye;
        let (ahead, aside) = (away.x * sin_h + away.y * cos_h, away.x * cos_h - away.y * sin_h);
        let depth = ahead * cos_p + away.z * sin_p;
        (depth > 0.0).then(|| (self.focal_px * aside / depth, self.focal_px * (away.z * cos_p - ahead * sin_p) / depth))
    }

    fn frames(&self, point: &WorldPoint) -> bool {
        self.place(point).is_some_and(|(right, up)| right.abs() <= self.half_px.0 && up.abs() <= self.half_px.1)
    }

    /// Pixels a metre at a point of a face, in the direction in which they are fewest.
    fn px_per_m(&self, point: &WorldPoint, normal: &WorldVector) -> f64 {
        const STEP_M: f64 = 5e-4;
        const DIRECTIONS: u32 = 120;
        let any = if normal.z.abs() < 0.9 { WorldVector::z() } else { WorldVector::x() };
        let one = normal.cross(&any).normalize();
        let other = normal.cross(&one);
        (0..DIRECTIONS)
            .map(|index| {
                let (sine, cosine) = (f64::from(index) * std::f64::consts::PI / f64::from(DIRECTIONS)).sin_cos();
                let step = (one * cosine + other * sine) * STEP_M;
                let [ahead, behind] = [point + step, point - step].map(|end| self.place(&end).expect("in front"));
                (ahead.0 - behind.0).hypot(ahead.1 - behind.1) / (2.0 * STEP_M)
            })
            .fold(f64::INFINITY, f64::min)
    }
}

/// Points drawn at random on the skin of the subject's blocks, with the outward normal of the piece they lie on and whether that
/// piece is of a round body.
fn skin(survey: &Survey, count: usize, random: &mut Random) -> Vec<(WorldPoint, WorldVector, bool)> {
    let model = &survey.model;
    let mut parts = Vec::new();
    let mut total_m2 = 0.0;
    for solid in model.subject().map(|block| &model.solids[block]) {
        for triangle in &solid.triangles {
            let [a, b, c] = solid.corners(triangle);
            let normal = (b - a).cross(&(c - a));
            if normal.norm() > 0.0 && normal.normalize().z > -0.99 {
                total_m2 += 0.5 * normal.norm();
                let round = solid.faces[triangle.face as usize].curve.is_some();
                parts.push((total_m2, [a, b, c], normal.normalize(), round));
            }
        }
    }
    let mut points = Vec::new();
    for _ in 0..count {
        let wanted_m2 = random.between(0.0, total_m2);
        let (_, [a, b, c], normal, round) =
            parts[parts.partition_point(|part| part.0 < wanted_m2).min(parts.len() - 1)];
        let (mut s, mut t) = (random.between(0.0, 1.0), random.between(0.0, 1.0));
        if s + t > 1.0 {
            (s, t) = (1.0 - s, 1.0 - t);
        }
        points.push((a + (b - a) * s + (c - a) * t, normal, round));
    }
    points
}

/// The lowest detail of all that is seen no flatter than so, from many points; `None` where there is none.
fn lowest(survey: &Survey, camera: &Pinhole, skin: &[(WorldPoint, WorldVector, bool)], least_deg: f64) -> Option<f64> {
    skin.iter()
        .filter_map(|(point, normal, round)| {
            let towards = camera.eye - point;
            let beside = point + normal * 4e-3;
            let seen = normal.dot(&towards) > 0.0
                && survey.model.block_around(&beside).is_none()
                && camera.frames(point)
                && survey.sight.is_free(&camera.eye, &beside);
            let judged = if *round {
                let level = WorldVector::new(towards.x, towards.y, 0.0).normalize();
                level * normal.x.hypot(normal.y) + WorldVector::z() * normal.z
            } else {
                *normal
            };
            let sine = judged.dot(&towards) / towards.norm();
            (seen && sine >= least_deg.to_radians().sin()).then(|| camera.px_per_m(point, &judged))
        })
        .reduce(f64::min)
}

const SUBJECTS: [(&str, &str); 9] = [
    (
        "gable",
        "(name: \"a\", subject: true, at: (0, 0), shape: Gable(width_m: 14, depth_m: 9, eaves_m: 6, ridge_m: 11))",
    ),
    (
        "low gable",
        "(name: \"a\", subject: true, at: (0, 0), shape: Gable(width_m: 20, depth_m: 12, eaves_m: 5, ridge_m: 8))",
    ),
    (
        "hip",
        "(name: \"a\", subject: true, at: (0, 0), shape: Hip(width_m: 14, depth_m: 8, eaves_m: 4.5, ridge_m: 9, ridge_length_m: 7))",
    ),
    (
        "prism",
        "(name: \"a\", subject: true, at: (0, 0), shape: Prism(outline: [(-8, -6), (8, -6), (8, 1), (2, 1), (2, 7), (-8, 7)], height_m: 12))",
    ),
    (
        "leaning tower",
        "(name: \"a\", subject: true, at: (0, 0), leans: (by_deg: 4, toward_deg: 70), shape: Box(width_m: 7, depth_m: 7, height_m: 26))",
    ),
    (
        "stack",
        "(name: \"a\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 2.6, head_radius_m: 1.5, height_m: 42))",
    ),
    (
        "drum and dome",
        "(name: \"d\", subject: true, at: (0, 0), lift_m: 9, shape: Dome(radius_m: 5, height_m: 5)), (name: \"a\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 5, head_radius_m: 5, height_m: 9))",
    ),
    (
        "six sides",
        "(name: \"a\", subject: true, at: (0, 0), shape: PolygonTaper(sides: 6, foot_across_m: 9, head_across_m: 4, height_m: 30))",
    ),
    (
        "front",
        "(name: \"a\", subject: true, at: (0, 0), heading_deg: 180, shape: Facade(width_m: 22, depth_m: 14, height_m: 19, bays: 7, storeys: 5))",
    ),
];

fn measured(survey: &Survey, stance: &Stance) -> Option<Measured> {
    survey.measure(stance, &MeasureSettings::default()).ok()
}

#[test]
fn the_lowest_detail_is_the_lowest_of_the_whole_skin_by_finite_differences() {
    let mut random = Random::new(139);
    let (mut lower, mut higher) = (Vec::new(), Vec::new());
    for (name, blocks) in SUBJECTS {
        let survey = surveyed_blocks(blocks);
        let skin = skin(&survey, 6000, &mut random);
        for step in 0..14 {
            let (bearing, away_m) = (2.4 * f64::from(step) + 0.1, random.between_octaves(17.0, 90.0));
            let height_m = [1.6, 0.9, 12.0, 4.2, 40.0][step as usize % 5];
            let lens = *random.one_of(&["14 mm", "24 mm", "24-70 mm", "50 mm"]);
            let aim = *random.one_of(&[Aim::Fill, Aim::Level, Aim::LeastTilt]);
            let from = stance((away_m * bearing.sin(), away_m * bearing.cos()), height_m, lens, aim);
            let Some(measured) = measured(&survey, &from) else { continue };
            let camera = Pinhole::of(&measured);
            let told = || format!("{name}, {from:?}");
            let Some((detail, place)) = measured.account.lowest_detail else {
                assert!(lowest(&survey, &camera, &skin, 34.0).is_none(), "{}", told());
                continue;
            };
            // At the very place that is told, moved along the face that is told.
            let ruled = camera.px_per_m(&place.point, &place.normal);
            assert!((detail.px_per_m / ruled - 1.0).abs() < 2e-3, "{detail:?} for {ruled}: {}", told());
            let towards = (camera.eye - place.point).normalize();
            assert!(place.normal.dot(&towards) >= 0.5 - 1e-9 && camera.frames(&place.point), "{}", told());
            // And nowhere on the skin is it lower, but for what lies between the samples.
            let dense = lowest(&survey, &camera, &skin, 30.0).unwrap_or_else(|| panic!("nothing seen: {}", told()));
            lower.push((detail.px_per_m / dense, told()));
            // Of a face that is seen at hardly more than 30° in a corner, no sample may lie in that corner.
            if let Some(dense) = lowest(&survey, &camera, &skin, 34.0) {
                higher.push((detail.px_per_m / dense, told()));
            }
        }
    }
    let by = |a: &(f64, String), b: &(f64, String)| a.0.total_cmp(&b.0);
    let (least, most) = (lower.iter().min_by(|a, b| by(a, b)), higher.iter().max_by(|a, b| by(a, b)));
    assert!(lower.len() > 90 && higher.len() > 80, "{} {}", lower.len(), higher.len());
    assert!(least.is_some_and(|least| least.0 > 0.95), "lower than the skin: {least:?}");
    assert!(most.is_some_and(|most| most.0 < 1.12), "misses the lowest: {most:?}");
}

/// Round a gable, standpoints 20° apart differ as distance and the faces that come into view differ, not elevenfold.
#[test]
fn neighbouring_standpoints_about_a_gable_have_like_detail() {
    for (eaves_m, ridge_m) in [(6.0, 11.0), (5.0, 8.0), (4.0, 9.0), (7.5, 11.0)] {
        let survey = surveyed_blocks(&format!(
            "(name: \"a\", subject: true, at: (0, 0), shape: Gable(width_m: 12, depth_m: 9, eaves_m: {eaves_m}, ridge_m: {ridge_m}))"
        ));
        for (away_m, height_m) in [(28.0, 1.6), (45.0, 1.6), (28.0, 6.0)] {
            let details: Vec<f64> = (0..18)
                .map(|step| {
                    let (sine, cosine) = (20.0 * f64::from(step)).to_radians().sin_cos();
                    let from = stance((away_m * sine, away_m * cosine), height_m, "24 mm", Aim::Fill);
                    let measured = measured(&survey, &from).expect("a stance");
                    measured.account.lowest_detail.expect("seen").0.px_per_m
                })
                .collect();
            for step in 0..18 {
                let (here, next) = (details[step], details[(step + 1) % 18]);
                let ratio = (here / next).max(next / here);
                assert!(ratio < 2.0, "{eaves_m} {ridge_m} {away_m} {height_m}: {:.1?}", details);
            }
        }
    }
}

/// By hand: a gable whose roof rises 24° is seen from the ground at less than 30°, so that its wall alone is judged: at D metres a
/// 24 mm lens on 36×24 mm with 6000×4000 px draws 4000/D px/m square on, less by no more than its tilt makes it.
#[test]
fn a_roof_seen_flatly_and_a_tops_own_point_are_not_the_lowest() {
    let survey = surveyed_blocks(
        "(name: \"a\", subject: true, at: (0, 0), shape: Gable(width_m: 14, depth_m: 9, eaves_m: 6, ridge_m: 8))",
    );
    let (away_m, depth_m) = (33.0, 33.0 - 4.5);
    for height_m in [0.9, 1.6, 3.0] {
        let measured = measured(&survey, &stance((0.0, -away_m), height_m, "24 mm", Aim::Level)).expect("a stance");
        let (detail, place) = measured.account.lowest_detail.expect("seen");
        assert!(place.normal.z.abs() < 1e-9 && place.point.z <= 6.0, "{place:?}");
        // Level and square on all of the wall is drawn alike.
        assert!((detail.px_per_m - 4000.0 / depth_m).abs() < 0.01 * detail.px_per_m, "{detail:?}");
        // The figure at its top tells the roof, as it is, and lies far below.
        let top = measured.account.detail[2].expect("its top").px_per_m;
        assert!(top < 0.5 * detail.px_per_m, "{top} {detail:?}");
    }
    // From above the roof is seen steeply, and is judged.
    let over = stance((0.0, -away_m), 34.0, "24 mm", Aim::Fill);
    let measured = measured(&survey, &over).expect("a stance");
    let subject = subject(&survey);
    let roof = subject.samples.iter().filter(|sample| {
        let towards = (measured.standing.pose.eye - sample.point).normalize();
        sample.normal.z > 0.5 && sample.normal.dot(&towards) >= 0.5
    });
    assert!(roof.count() > 50);
}

/// A round body is judged by the side that faces the camera: by hand, a cylinder seen level draws f/D at its nearest line, and
/// hardly less at its outline, however flatly that is seen.
#[test]
fn a_round_bodys_outline_is_not_the_lowest() {
    let survey = surveyed_blocks(
        "(name: \"a\", subject: true, at: (0, 0), shape: RoundTaper(foot_radius_m: 3, head_radius_m: 3, height_m: 12))",
    );
    let measured = measured(&survey, &stance((0.0, -40.0), 6.0, "24 mm", Aim::Level)).expect("a stance");
    let (detail, _) = measured.account.lowest_detail.expect("seen");
    // From its nearest line at 37 m to its tangents at √(40² − 3²) m.
    let (most, least) = (4000.0 / 37.0, 4000.0 / (40.0_f64 * 40.0 - 9.0).sqrt());
    assert!(detail.px_per_m <= most && detail.px_per_m >= 0.98 * least, "{detail:?} between {least} and {most}");
}
