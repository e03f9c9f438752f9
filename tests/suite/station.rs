//! An invented pumping station on a gentle hill, with most shapes of the site file in it.

use plumbsight::site::{Model, Site, Terrain, TerrainGrid};

/// A site from the text of its file.
pub(crate) fn site(text: &str) -> Site {
    plumbsight::files::ron_options().from_str(text).expect("a site")
}

/// The station with its ground: 61 × 61 posts, 8 m apart.
pub(crate) fn station() -> Model {
    let mut station = site(include_str!("station.ron"));
    let height_m = |x: f64, y: f64| {
        let knoll = 9.0 * (-((x - 95.0).powi(2) + (y - 120.0).powi(2)) / 5200.0).exp();
        let ridge = 14.0 * (-((x + 150.0).powi(2) / 9000.0 + (y - 190.0).powi(2) / 5000.0)).exp();
        let pond = -2.6 * (-((x - 20.0).powi(2) / 900.0 + (y + 75.0).powi(2) / 2500.0)).exp();
        let away_from_yard = 1.0 - (-(x * x + y * y) / 1800.0).exp();
        away_from_yard * (knoll + ridge + 0.5 * (x / 37.0).sin() * (y / 29.0).cos()) + pond
    };
    let post = |step: u32| -240.0 + 8.0 * f64::from(step);
    station.terrain = Terrain::Grid(TerrainGrid {
        south_west: (post(0), post(0)),
        spacing_m: (8.0, 8.0),
        turned_deg: 0.0,
        rows: (0..61).rev().map(|row| (0..61).map(|column| height_m(post(column), post(row))).collect()).collect(),
    });
    Model::build(station)
}
