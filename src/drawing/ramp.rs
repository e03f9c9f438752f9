//! Which colour stands for which value on a map of the search, and how is its legend read?
//!
//! One ramp for everything of which less or more is better: a straight line between a strong blue and a straw that lies near
//! the panel, and so equal steps of value are equal steps to the eye, in lightness and along the axis from blue to yellow, which
//! people who confuse red with green see as well as others do. What is best is blue and stands out most from the panel: a deep
//! blue on paper, a bright one at dusk. A convergence of both signs runs from blue (it diverges) over the quiet middle to ochre (it converges).

use crate::search::{Map, MapFigure};
use crate::theme::{Colour, Theme};
use crate::units::Units;
use crate::wording;

/// How many colours a ramp is cut into where it is painted cell by cell.
pub const RAMP_COLOURS: usize = 256;
/// The share of the places at each end that may lie beyond the ramp, so that a few of them do not flatten all others.
const BEYOND_SHARE: f64 = 0.03;
/// How many steps a scale has at least.
const STEPS: f64 = 4.0;

/// A colour for each value of a figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ramp {
    figure: MapFigure,
    /// The value at its start and at its end.
    low: f64,
    high: f64,
    /// From one tick to the next, on an even scale.
    step: f64,
    scale: Scale,
    /// Whether there are places below its start and above its end.
    beyond: (bool, bool),
}

/// How values are spread along a ramp.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Scale {
    /// Equal differences.
    Even,
    /// Equal differences about a middle of zero.
    About,
    /// Equal ratios.
    Ratio,
}

/// A mark on a legend.
#[derive(Clone, Debug, PartialEq)]
pub struct Tick {
    /// How far along the ramp, 0 to 1.
    pub share: f64,
    /// What it says, without the unit.
    pub text: String,
}

impl Ramp {
    /// The ramp for a figure of a map; `None` where no place has the figure.
    pub fn for_figure(figure: MapFigure, map: &Map) -> Option<Self> {
        let mut values = Vec::new();
        for row in 0..map.rows() {
            values.extend((0..map.columns()).filter_map(|column| map.value(column, row, figure)));
        }
        Self::for_values(figure, values)
    }

    /// The ramp for such values of a figure, whatever their order; `None` without a value.
    pub fn for_values(figure: MapFigure, mut values: Vec<f64>) -> Option<Self> {
        values.retain(|value| value.is_finite());
        values.sort_unstable_by(f64::total_cmp);
        let (first, last) = (*values.first()?, *values.last()?);
        let at = |share: f64| values[(share * (values.len() - 1) as f64).round() as usize];
        let (low, high) = (at(BEYOND_SHARE), at(1.0 - BEYOND_SHARE));
        let even = |low: f64, high: f64, step: f64| {
            let low = (low / step + 1e-9).floor() * step;
            (low, ((high / step - 1e-9).ceil() * step).max(low + step), step)
        };
        let (scale, (low, high, step)) = match figure {
            MapFigure::Seen | MapFigure::Filled => (Scale::Even, (0.0, 1.0, 0.25)),
            // Both ends are focal lengths, and positive.
            MapFigure::Focal => (Scale::Ratio, (low.max(0.1), high.max(low.max(0.1) * 1.25), 0.0)),
            MapFigure::Convergence if low < -0.05 => {
                let most = low.abs().max(high.abs());
                let step = round_step(most / (0.5 * STEPS));
                let most = (most / step - 1e-9).ceil().max(1.0) * step;
                (Scale::About, (-most, most, step))
            }
            MapFigure::LargestLean
            | MapFigure::Convergence
            | MapFigure::Detail
            | MapFigure::Front
            | MapFigure::Light => (Scale::Even, even(0.0, high, round_step(high / STEPS))),
            MapFigure::LowestSeen | MapFigure::LowestMet => {
                (Scale::Even, even(low, high, round_step((high - low) / STEPS)))
            }
        };
        let small = 1e-6 * (high - low);
        Some(Self { figure, low, high, step, scale, beyond: (first < low - small, last > high + small) })
    }

    /// What it is a ramp of.
    pub fn figure(&self) -> MapFigure {
        self.figure
    }

    /// The values at its start and end.
    pub fn ends(&self) -> (f64, f64) {
        (self.low, self.high)
    }

    /// How far along the ramp a value lies, 0 to 1; what lies beyond an end is put to it.
    pub fn share(&self, value: f64) -> f64 {
        let share = match self.scale {
            Scale::Even | Scale::About => (value - self.low) / (self.high - self.low),
            Scale::Ratio => (value.max(1e-9) / self.low).ln() / (self.high / self.low).ln(),
        };
        if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 }
    }

    /// The colour of a value.
    pub fn colour(&self, value: f64, theme: Theme) -> Colour {
        self.colour_at(self.share(value), theme)
    }

    /// The colour so far along the ramp.
    pub fn colour_at(&self, share: f64, theme: Theme) -> Colour {
        let share = share.clamp(0.0, 1.0);
        if self.scale == Scale::About {
            let (diverges, middle, converges) = match theme {
                Theme::Paper => (ABOUT_PAPER[0], ABOUT_PAPER[1], ABOUT_PAPER[2]),
                Theme::Dusk => (ABOUT_DUSK[0], ABOUT_DUSK[1], ABOUT_DUSK[2]),
            };
            let (end, way) = if share < 0.5 { (diverges, 1.0 - 2.0 * share) } else { (converges, 2.0 * share - 1.0) };
            return middle.towards(end, way).colour();
        }
        // A longer lens is no better than a shorter one: more of it is simply drawn as more.
        let more_stands_out = !self.figure.smaller_is_better().unwrap_or(self.figure == MapFigure::Convergence);
        let strength = if more_stands_out { share } else { 1.0 - share };
        let [weak, strong] = match theme {
            Theme::Paper => EVEN_PAPER,
            Theme::Dusk => EVEN_DUSK,
        };
        weak.towards(strong, strength).colour()
    }

    /// The whole ramp, cut into colours: value `v` has the one at [`Ramp::index`].
    pub fn colours(&self, theme: Theme) -> Vec<Colour> {
        let last = (RAMP_COLOURS - 1) as f64;
        (0..RAMP_COLOURS).map(|index| self.colour_at(index as f64 / last, theme)).collect()
    }

    /// Which of [`Ramp::colours`] a value has.
    pub fn index(&self, value: f64) -> usize {
        (self.share(value) * (RAMP_COLOURS - 1) as f64).round() as usize
    }

    /// What is written over its legend: the figure and its unit.
    pub fn title(&self, units: Units) -> String {
        match unit(self.figure, units) {
            "" => self.figure.title().to_owned(),
            unit => format!("{}, {unit}", self.figure.title()),
        }
    }

    /// The unit of what is written along its legend.
    pub fn unit(&self, units: Units) -> &'static str {
        unit(self.figure, units)
    }

    /// What is written along its legend, from its start: at most `most` marks, at least its two ends.
    pub fn ticks(&self, units: Units, most: usize) -> Vec<Tick> {
        let mut values = match self.scale {
            Scale::Ratio => vec![self.low, (self.low * self.high).sqrt(), self.high],
            Scale::Even | Scale::About => {
                let count = ((self.high - self.low) / self.step).round().max(1.0) as usize;
                (0..=count).map(|index| self.low + (self.high - self.low) * index as f64 / count as f64).collect()
            }
        };
        while values.len() > most.max(2) {
            let last = values.len() - 1;
            // Every second one, or none but the ends where these would not stay.
            values = match last % 2 {
                0 => values.into_iter().step_by(2).collect(),
                _ => vec![self.low, self.high],
            };
        }
        let last = values.len() - 1;
        let text = |(index, value): (usize, f64)| {
            let mut text = self.number(value, units);
            if index == 0 && self.beyond.0 {
                text.push_str(" or less");
            } else if index == last && self.beyond.1 {
                text.push_str(" or more");
            }
            Tick { share: self.share(value), text }
        };
        values.into_iter().enumerate().map(text).collect()
    }

    /// A value with as many digits as its legend needs, without its unit.
    fn number(&self, value: f64, units: Units) -> String {
        let (value, step) = match self.figure {
            MapFigure::Seen | MapFigure::Filled => return wording::percent(value),
            MapFigure::Focal | MapFigure::Front | MapFigure::Light => return format!("{value:.0}"),
            MapFigure::LowestSeen | MapFigure::LowestMet => (units.from_metres(value), units.from_metres(self.step)),
            MapFigure::Detail => (per_length(value, units), per_length(self.step, units)),
            MapFigure::LargestLean | MapFigure::Convergence => (value, self.step),
        };
        let digits = (0..=3).find(|&digits| {
            let tens = 10_f64.powi(digits);
            ((step * tens).round() - step * tens).abs() < 1e-6 * tens
        });
        // Feet are no round number of metres; a tenth of one is enough.
        let digits = digits.unwrap_or(1) as usize;
        let text = format!("{value:.digits$}");
        if text.trim_start_matches('-').bytes().all(|byte| matches!(byte, b'0' | b'.')) { "0".into() } else { text }
    }
}

/// A value of a figure with its unit, as it is written for one place.
pub fn written(figure: MapFigure, value: f64, units: Units) -> String {
    match figure {
        MapFigure::LargestLean => wording::degrees(value),
        MapFigure::Convergence => wording::convergence(value),
        MapFigure::Seen | MapFigure::Filled => wording::percent(value),
        MapFigure::Focal => format!("{value:.0} mm"),
        MapFigure::Detail => units.detail(value),
        MapFigure::Front => format!("{value:.0}° from the front"),
        MapFigure::Light => format!("{value:.0} min"),
        MapFigure::LowestSeen | MapFigure::LowestMet => units.length(value, 2),
    }
}

/// The unit of a figure's values on a legend.
fn unit(figure: MapFigure, units: Units) -> &'static str {
    match (figure, units) {
        (MapFigure::Seen | MapFigure::Filled, _) => "",
        (MapFigure::LargestLean | MapFigure::Convergence | MapFigure::Front, _) => "degrees",
        (MapFigure::Focal, _) => "mm",
        (MapFigure::Light, _) => "minutes",
        (MapFigure::Detail, Units::M) => "px/m",
        (MapFigure::Detail, Units::Ft) => "px/ft",
        (MapFigure::LowestSeen | MapFigure::LowestMet, _) => units.name(),
    }
}

fn per_length(px_per_m: f64, units: Units) -> f64 {
    px_per_m / units.from_metres(1.0)
}

/// The step of 1, 2 or 5 times a power of ten that is at least this long; 1 for what is no length.
fn round_step(at_least: f64) -> f64 {
    crate::units::round_step(at_least).unwrap_or(1.0)
}

/// A colour by its lightness and its places between green and red and between blue and yellow; equal distances look
/// equally large.
///
/// # Source
/// Björn Ottosson, *A perceptual color space for image processing*, 2020 (Oklab); the numbers are from memory and checked
/// by what white and grey must come to.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Oklab {
    lightness: f64,
    green_red: f64,
    blue_yellow: f64,
}

/// The weak and the strong end of the ramp, chosen by eye on both panels: blue is strong on either, and the other end is near
/// the panel.
const EVEN_PAPER: [Oklab; 2] = [
    Oklab { lightness: 0.90, green_red: 0.0, blue_yellow: 0.11 },
    Oklab { lightness: 0.35, green_red: 0.01, blue_yellow: -0.11 },
];
const EVEN_DUSK: [Oklab; 2] = [
    Oklab { lightness: 0.36, green_red: 0.0, blue_yellow: 0.06 },
    Oklab { lightness: 0.82, green_red: -0.025, blue_yellow: -0.083 },
];
/// Diverges, neither, converges.
const ABOUT_PAPER: [Oklab; 3] = [
    Oklab { lightness: 0.45, green_red: -0.015, blue_yellow: -0.12 },
    Oklab { lightness: 0.93, green_red: 0.0, blue_yellow: 0.01 },
    Oklab { lightness: 0.45, green_red: 0.035, blue_yellow: 0.09 },
];
const ABOUT_DUSK: [Oklab; 3] = [
    Oklab { lightness: 0.80, green_red: -0.025, blue_yellow: -0.095 },
    Oklab { lightness: 0.38, green_red: 0.0, blue_yellow: -0.005 },
    Oklab { lightness: 0.80, green_red: 0.03, blue_yellow: 0.115 },
];

impl Oklab {
    fn towards(self, other: Self, share: f64) -> Self {
        let between = |from: f64, to: f64| from + share * (to - from);
        Self {
            lightness: between(self.lightness, other.lightness),
            green_red: between(self.green_red, other.green_red),
            blue_yellow: between(self.blue_yellow, other.blue_yellow),
        }
    }

    fn linear(self) -> [f64; 3] {
        let (l, a, b) = (self.lightness, self.green_red, self.blue_yellow);
        let [long, middle, short] = [
            l + 0.396_337_777_4 * a + 0.215_803_757_3 * b,
            l - 0.105_561_345_8 * a - 0.063_854_172_8 * b,
            l - 0.089_484_177_5 * a - 1.291_485_548_0 * b,
        ]
        .map(|cone| cone * cone * cone);
        [
            4.076_741_662_1 * long - 3.307_711_591_3 * middle + 0.230_969_929_2 * short,
            -1.268_438_004_6 * long + 2.609_757_401_1 * middle - 0.341_319_396_5 * short,
            -0.004_196_086_3 * long - 0.703_418_614_7 * middle + 1.707_614_701_0 * short,
        ]
    }

    fn colour(self) -> Colour {
        Colour::from_linear(self.linear())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp(figure: MapFigure, low: f64, high: f64) -> Ramp {
        let values = (0..=100).map(|index| low + (high - low) * f64::from(index) / 100.0).collect();
        Ramp::for_values(figure, values).expect("there are values")
    }

    /// Lightness L* and the two axes of colour, from sRGB under D65.
    ///
    /// Source: CIE 15:2004, *Colorimetry*, 8.2.1; the matrix is that of IEC 61966-2-1.
    fn cielab(linear: [f64; 3]) -> [f64; 3] {
        let [r, g, b] = linear;
        let xyz = [
            (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505,
            0.2126 * r + 0.7152 * g + 0.0722 * b,
            (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.0890,
        ];
        let [x, y, z] = xyz.map(|share| {
            let limit = 6.0_f64 / 29.0;
            if share > limit.powi(3) { share.cbrt() } else { share / (3.0 * limit * limit) + 4.0 / 29.0 }
        });
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    fn apart(one: [f64; 3], other: [f64; 3]) -> f64 {
        let [a, b] = [cielab(one), cielab(other)];
        (0..3).map(|axis| (a[axis] - b[axis]).powi(2)).sum::<f64>().sqrt()
    }

    #[test]
    fn white_and_grey_have_no_colour() {
        for lightness in [0.0, 0.3, 0.7, 1.0] {
            let grey = Oklab { lightness, green_red: 0.0, blue_yellow: 0.0 }.linear();
            for channel in grey {
                assert!((channel - lightness.powi(3)).abs() < 1e-6, "{grey:?}");
            }
        }
    }

    #[test]
    fn equal_steps_of_value_are_equal_steps_to_the_eye_also_without_red_or_green() {
        // Linear RGB as one sees it who has no long or no middle cones: Viénot, Brettel, Mollon, *Digital video
        // colourmaps for checking the legibility of displays by dichromats*, 1999; the numbers are from memory.
        let without_long: fn([f64; 3]) -> [f64; 3] = |[r, g, b]: [f64; 3]| {
            let one = 0.112_38 * r + 0.887_62 * g;
            [one, one, 0.004_01 * r - 0.004_01 * g + b]
        };
        let without_middle: fn([f64; 3]) -> [f64; 3] = |[r, g, b]: [f64; 3]| {
            let one = 0.292_75 * r + 0.707_25 * g;
            [one, one, -0.022_34 * r + 0.022_34 * g + b]
        };
        let scales = [
            ramp(MapFigure::LargestLean, 0.0, 9.0),
            ramp(MapFigure::Detail, 0.0, 400.0),
            ramp(MapFigure::Convergence, -5.0, 5.0),
        ];
        for (ramp, theme) in scales.iter().flat_map(|ramp| Theme::ALL.map(|theme| (ramp, theme))) {
            let steps: Vec<[f64; 3]> =
                (0..=8).map(|step| ramp.colour_at(f64::from(step) / 8.0, theme).linear()).collect();
            let seen: Vec<f64> = steps.windows(2).map(|pair| apart(pair[0], pair[1])).collect();
            let (least, most) =
                seen.iter().fold((f64::INFINITY, 0.0), |(least, most), &step| (step.min(least), step.max(most)));
            assert!(least > 6.0 && most < 1.5 * least, "{theme:?} {:?}: {seen:?}", ramp.figure);
            for (pair, seen) in steps.windows(2).zip(&seen) {
                for sees in [without_long, without_middle] {
                    let without = apart(sees(pair[0]), sees(pair[1]));
                    assert!(without > 0.6 * seen, "{theme:?} {:?}: {without} of {seen}", ramp.figure);
                }
            }
            if ramp.scale == Scale::Even {
                let lightness: Vec<f64> = steps.iter().map(|step| cielab(*step)[0]).collect();
                let (first, last) = (lightness[0], lightness[8]);
                for (index, found) in lightness.iter().enumerate() {
                    let even = first + (last - first) * index as f64 / 8.0;
                    assert!((found - even).abs() < 2.0, "{theme:?}: {lightness:?}");
                }
            }
        }
    }

    #[test]
    fn every_colour_can_be_shown() {
        for seen in EVEN_PAPER.iter().chain(&EVEN_DUSK).chain(&ABOUT_PAPER).chain(&ABOUT_DUSK) {
            assert!(seen.linear().iter().all(|channel| (0.0..=1.0).contains(channel)), "{seen:?}");
        }
    }

    #[test]
    fn the_best_stands_out_most_from_the_panel() {
        use crate::theme::contrast;
        for theme in Theme::ALL {
            let panel = theme.palette().panel;
            for (figure, best, worst) in [(MapFigure::LargestLean, 0.0, 1.0), (MapFigure::Detail, 1.0, 0.0)] {
                let ramp = ramp(figure, 0.0, 10.0);
                // The best is blue in either theme: whoever changes the colours reads the map as before.
                let strong = ramp.colour_at(best, theme);
                assert!(strong.2 > strong.0 && strong.2 > strong.1, "{theme:?} {figure:?}: {strong:?}");
                let [best, worst] = [best, worst].map(|share| contrast(ramp.colour_at(share, theme), panel));
                assert!(best > 8.0 && best > 4.0 * worst, "{theme:?} {figure:?}: {best}, {worst}");
            }
        }
    }

    #[test]
    fn a_legend_says_what_its_colours_mean() {
        let texts = |ramp: &Ramp, units| ramp.ticks(units, 5).into_iter().map(|tick| tick.text).collect::<Vec<_>>();
        let mut values: Vec<f64> = (0..1000).map(|index| f64::from(index) * 0.009).collect();
        values.push(70.0);
        let lean = Ramp::for_values(MapFigure::LargestLean, values).expect("values");
        assert_eq!(texts(&lean, Units::M), ["0", "5", "10 or more"]);
        assert_eq!(lean.title(Units::M), "Largest lean with the best lens, degrees");
        assert_eq!(lean.share(5.0), 0.5);
        assert_eq!(texts(&ramp(MapFigure::Seen, 0.3, 0.9), Units::M), ["0 %", "25 %", "50 %", "75 %", "100 %"]);
        assert_eq!(texts(&ramp(MapFigure::Convergence, -3.0, 4.5), Units::M).first().map(String::as_str), Some("-5"));
        // Equal ratios: the middle of 10 and 1000 mm is 100 mm.
        let focal = Ramp { low: 10.0, high: 1000.0, beyond: (false, false), ..ramp(MapFigure::Focal, 10.0, 1000.0) };
        assert_eq!(texts(&focal, Units::M), ["10", "100", "1000"]);
        assert_eq!(focal.share(100.0), 0.5);
        // 3.048 m are 10 ft.
        assert_eq!(written(MapFigure::LowestMet, 3.048, Units::Ft), "10.00 ft");
        assert!(Ramp::for_values(MapFigure::Focal, vec![f64::NAN]).is_none());
    }

    #[test]
    fn one_value_alone_has_a_ramp() {
        for figure in MapFigure::ALL {
            for value in [0.0, 1e-9, 1.0, 1e9] {
                let ramp = Ramp::for_values(figure, vec![value]).expect("a value");
                assert!((0.0..=1.0).contains(&ramp.share(value)) && ramp.ticks(Units::M, 5).len() >= 2);
                assert!(ramp.index(value) < RAMP_COLOURS);
            }
        }
    }
}
