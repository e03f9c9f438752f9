//! Are the trees in leaf?

use crate::place::Day;

/// Nearer to the equator trees keep to the rains, not to the months.
const TROPIC_DEG: f64 = 23.5;
/// The months in which most broadleaved trees of the north are bare, and those of the south (common practice, no source).
const BARE_NORTH: [u8; 6] = [11, 12, 1, 2, 3, 4];
const BARE_SOUTH: [u8; 6] = [5, 6, 7, 8, 9, 10];

/// Whether most broadleaved trees are bare on a day at a latitude in degrees, north positive; none between the tropics, where the
/// day does not tell. Conifers and the month of budding are for whoever knows the place.
pub fn bare_season(latitude_deg: f64, day: Day) -> Option<bool> {
    let (_, month, _) = day.numbers();
    let bare = if latitude_deg > 0.0 { BARE_NORTH } else { BARE_SOUTH };
    (latitude_deg.abs() > TROPIC_DEG).then(|| bare.contains(&month))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn january_is_bare_in_the_north_and_in_leaf_in_the_south() {
        let on = |text: &str| text.parse::<Day>().expect("a day");
        let (january, july) = (on("2026-01-15"), on("2026-07-15"));
        assert_eq!((bare_season(53.7, january), bare_season(53.7, july)), (Some(true), Some(false)));
        assert_eq!((bare_season(-33.9, january), bare_season(-33.9, july)), (Some(false), Some(true)));
        assert_eq!(bare_season(5.0, january), None);
    }
}
