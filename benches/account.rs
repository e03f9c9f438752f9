//! How long does it take to measure a stance, to aim, and to find how exactly one must stand?
//!
//! The subject has about 200 edges: a front with windows, or a cluster of boxes. Nothing is looked at (no sight), as in a
//! search over many places.

use divan::{Bencher, black_box};
use plumbsight::aim::{Mounting, aim};
use plumbsight::angle::Angle;
use plumbsight::appraise::{Measures, appraise};
use plumbsight::optics::{Distortion, Kit, Orientation};
use plumbsight::outline::Subject;
use plumbsight::sight::Sight;
use plumbsight::site::{Aim, Model, Site, Stance};
use plumbsight::stance::{Standing, stand};
use plumbsight::tolerance::{Allowed, LEAN_CHANGE_DEG, tolerances};

fn main() {
    divan::main();
}

/// A subject before a camera that fills its frame with it.
struct Scene {
    model: Model,
    subject: Subject,
    kit: Kit,
    stance: Stance,
    standing: Standing,
}

impl Scene {
    fn new(blocks: &str, samples: usize) -> Self {
        let text = format!(
            "(format: 1, name: \"bench\", blocks: [{blocks}], \
             stances: [(name: \"street\", at: (9, -60), lens: \"24-70 mm\")])"
        );
        let site: Site = plumbsight::files::ron_options().from_str(&text).expect("a site");
        let kit = site.whole_kit();
        let model = Model::build(site);
        let subject = Subject::with_samples(&model, samples).expect("a subject");
        let stance = model.site.stances[0].clone();
        let standing = stand(&model, Some(&subject), &stance, &kit).expect("a stance");
        Self { model, subject, kit, stance, standing }
    }

    /// Bays and storeys of windows, twelve edges for each window.
    fn front(bays: u32, storeys: u32, samples: usize) -> Self {
        let (width_m, height_m) = (3 * bays, 4 * storeys);
        let block = format!(
            "(name: \"front\", subject: true, at: (0, 0), heading_deg: 180, shape: Facade(width_m: {width_m}, \
             depth_m: 8, height_m: {height_m}, bays: {bays}, storeys: {storeys}))"
        );
        Self::new(&block, samples)
    }

    /// Boxes side by side, twelve edges each.
    fn cluster(boxes: u32, samples: usize) -> Self {
        let blocks: Vec<String> = (0..boxes)
            .map(|index| {
                let (column, row) = (f64::from(index % 5), f64::from(index / 5));
                format!(
                    "(name: \"box {index}\", subject: true, at: ({}, {}), heading_deg: {}, \
                     shape: Box(width_m: 2, depth_m: 2, height_m: {}))",
                    3.0 * column - 6.0,
                    3.0 * row,
                    7.0 * column,
                    8.0 + 2.0 * row
                )
            })
            .collect();
        Self::new(&blocks.join(", "), samples)
    }

    fn of_200_edges(kind: &str) -> Self {
        let scene = if kind == "front" { Self::front(4, 4, 256) } else { Self::cluster(17, 256) };
        let edges: usize = scene.subject.blocks.iter().map(|&block| scene.model.solids[block].edges.len()).sum();
        assert_eq!(edges, 204);
        scene
    }

    fn account(&self, sight: Option<&Sight>, bencher: Bencher<'_, '_>) {
        let measures = Measures::default();
        bencher.bench(|| appraise(&self.model, Ok(&self.subject), sight, black_box(&self.standing), &measures));
    }
}

/// The bar: under 50 µs.
#[divan::bench(args = ["front", "cluster"])]
fn account(bencher: Bencher<'_, '_>, kind: &str) {
    Scene::of_200_edges(kind).account(None, bencher);
}

#[divan::bench(args = ["front", "cluster"])]
fn account_through_a_distorting_lens(bencher: Bencher<'_, '_>, kind: &str) {
    let mut scene = Scene::of_200_edges(kind);
    scene.standing.camera.distortion = Distortion::from_slice(&[-0.12, 0.03, 0.001, -0.001, 0.0]).expect("mild");
    scene.account(None, bencher);
}

#[divan::bench(args = ["front", "cluster"])]
fn account_with_sight(bencher: Bencher<'_, '_>, kind: &str) {
    let scene = Scene::of_200_edges(kind);
    let sight = Sight::over(&scene.model);
    scene.account(Some(&sight), bencher);
}

/// How the cost grows with the subject's edges: 60, 204, 780 and 3084.
#[divan::bench(args = [2, 4, 8, 16])]
fn account_by_bays_and_storeys(bencher: Bencher<'_, '_>, count: u32) {
    Scene::front(count, count, 256).account(None, bencher);
}

/// How the cost grows with the points that stand for the subject's surface.
#[divan::bench(args = [64, 256, 1024, 4096])]
fn account_by_samples(bencher: Bencher<'_, '_>, samples: usize) {
    Scene::front(4, 4, samples).account(None, bencher);
}

#[divan::bench(args = ["front", "cluster"])]
fn aim_to_fill_with_a_zoom(bencher: Bencher<'_, '_>, kind: &str) {
    let scene = Scene::of_200_edges(kind);
    let lens = scene.kit.lens(&scene.stance.lens).expect("a lens");
    let mounting = Mounting {
        frame: scene.standing.format.frame(Orientation::Portrait, None),
        lens: &lens,
        focal_mm: None,
        rise_mm: None,
        shift_mm: 0.0,
        distortion: None,
    };
    bencher.bench(|| aim(Aim::Fill, black_box(&scene.standing.pose.eye), Some(&scene.subject), &mounting));
}

#[divan::bench(args = ["front", "cluster"])]
fn tolerance_of_a_stance(bencher: Bencher<'_, '_>, kind: &str) {
    let scene = Scene::of_200_edges(kind);
    let lean_change = Angle::from_degrees(LEAN_CHANGE_DEG);
    let (sight, measures) = (Sight::over(&scene.model), Measures::default());
    let allowed = Allowed { measures: &measures, lean_change };
    bencher.bench(|| {
        let stance = black_box(&scene.stance);
        tolerances(&scene.model, &scene.subject, Some(&sight), stance, &scene.standing, allowed)
    });
}
