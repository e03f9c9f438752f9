//! How long does it take to look at every way from a stance of the demo sites? The bar: under 100 ms.

use divan::{Bencher, black_box};
use plumbsight::scenes::SCENES;
use plumbsight::site::{LoadedSite, parse_site, site_hash};
use plumbsight::survey::{MeasureSettings, Survey};
use plumbsight::ways::{Options, ways};

fn main() {
    divan::main();
}

/// Each site by its number among the demo sites, from its second saved stance.
#[divan::bench(args = [0, 1, 2])]
fn ways_of_a_demo_stance(bencher: Bencher<'_, '_>, scene: usize) {
    let scene = &SCENES[scene];
    let survey = Survey::of(LoadedSite {
        site: parse_site(scene.text, scene.name).expect("a site"),
        path: scene.name.into(),
        text: scene.text.into(),
        hash: site_hash(scene.text),
        warnings: Default::default(),
    });
    let stance = &survey.model.site.stances[1];
    bencher.bench(|| ways(black_box(&survey), stance, &MeasureSettings::default(), &Options::default()));
}
