//! How high is something whose height nobody knows? A few readings give it, with how far it may be off.

use bevy_egui::egui::{DragValue, Ui, WidgetInfo, WidgetType};

use crate::heights::{BaseSight, Count, FoundHeight, HeightBy, HeightError, Length, STOREY_M, STOREY_PM_M, Sighted};
use crate::site::Block;
use crate::units::Units;
use crate::wording::capital;

use super::super::context::PanelContext;
use super::super::style::{button, choice, row_widths};

/// What a reading is counted in.
#[derive(Clone, Copy, Debug, PartialEq)]
enum ReadIn {
    Metres,
    Degrees,
    Whole,
    Pixels,
}

/// One reading: what it is, its unit, and the value to begin with.
type Reading = (&'static str, ReadIn, f64);

/// A way of finding a height, with what is read for it.
struct Way {
    words: &'static str,
    readings: &'static [Reading],
}

const WAYS: [Way; 6] = [
    Way {
        words: "Storeys",
        readings: &[
            ("storeys", ReadIn::Whole, 4.0),
            ("a storey's height", ReadIn::Metres, STOREY_M),
            ("more for the ground floor", ReadIn::Metres, 0.0),
            ("above the last storey", ReadIn::Metres, 1.0),
        ],
    },
    Way {
        words: "Two sightings",
        readings: &[
            ("top from the nearer place", ReadIn::Degrees, 50.0),
            ("top from the farther place", ReadIn::Degrees, 35.0),
            ("between the two places", ReadIn::Metres, 20.0),
            ("eye above the base", ReadIn::Metres, 1.6),
        ],
    },
    Way {
        words: "One sighting",
        readings: &[
            ("top above level", ReadIn::Degrees, 40.0),
            ("distance", ReadIn::Metres, 30.0),
            ("eye above the base", ReadIn::Metres, 1.6),
        ],
    },
    Way {
        words: "Shadow",
        readings: &[("its shadow", ReadIn::Metres, 20.0), ("the sun's altitude", ReadIn::Degrees, 40.0)],
    },
    Way {
        words: "Post",
        readings: &[
            ("its shadow", ReadIn::Metres, 20.0),
            ("the post's height", ReadIn::Metres, 2.0),
            ("the post's shadow", ReadIn::Metres, 2.0),
        ],
    },
    Way {
        words: "Picture",
        readings: &[
            ("a known width in it", ReadIn::Metres, 5.0),
            ("that width", ReadIn::Pixels, 400.0),
            ("the height", ReadIn::Pixels, 2000.0),
        ],
    },
];

/// The readings so far.
pub(super) struct WorkOut {
    way: usize,
    values: [[f64; 4]; WAYS.len()],
}

impl Default for WorkOut {
    fn default() -> Self {
        let values = WAYS.each_ref().map(|way| {
            let mut values = [0.0; 4];
            for (value, reading) in values.iter_mut().zip(way.readings) {
                *value = reading.2;
            }
            values
        });
        Self { way: 0, values }
    }
}

impl WorkOut {
    fn by(&self) -> HeightBy {
        let [a, b, c, d] = self.values[self.way];
        match self.way {
            0 => HeightBy::Storeys {
                storeys: a.clamp(0.0, f64::from(u32::MAX)) as u32,
                storey: Length { m: b, pm_m: STOREY_PM_M },
                ground: Length::read(c),
                parapet: Length::read(d),
            },
            1 => HeightBy::TwoSightings {
                near: Sighted::read(a),
                far: Sighted::read(b),
                apart: Length::read(c),
                near_over_base: Length::read(d),
                far_over_base: Length::read(d),
            },
            2 => HeightBy::Sighting {
                top: Sighted::read(a),
                distance: Length::read(b),
                base: BaseSight::Over(Length::read(c)),
            },
            3 => HeightBy::Shadow { shadow: Length::read(a), sun: Sighted::read(b) },
            4 => HeightBy::Post { shadow: Length::read(a), post: Length::read(b), post_shadow: Length::read(c) },
            _ => HeightBy::Width { width: Length::read(a), width_px: Count::read(b), height_px: Count::read(c) },
        }
    }
}

/// The height with its doubt, in words: "36.0 m ± 1.2".
pub(super) fn height_words(height_m: f64, pm_m: f64, units: Units) -> String {
    let digits = usize::from(units.from_metres(pm_m) < 9.5);
    format!("{} ± {:.digits$}", units.length(height_m, digits), units.from_metres(pm_m))
}

/// A height that was agreed to, to the centimetre.
pub(super) struct AgreedHeight {
    pub(super) height_m: f64,
    pub(super) pm_m: f64,
    /// How it was found.
    pub(super) from: String,
}

/// The page on which a height is worked out; what was agreed to.
pub(super) fn work_out_ui(
    ui: &mut Ui,
    panel: &PanelContext<'_>,
    state: &mut WorkOut,
    block: &Block,
) -> Option<AgreedHeight> {
    let style = &panel.style;
    let units = panel.units();
    ui.set_width(style.px(300.0));
    ui.spacing_mut().item_spacing.y = style.px(4.0);
    ui.label(style.title(format!("How high is {}?", block.words())));
    for row in [0..3, 3..6] {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = style.px(4.0);
            let room = ui.available_width() - style.px(8.0);
            let words = [0, 1, 2].map(|index| WAYS[row.start + index].words);
            let widths = row_widths(ui, style, words, room);
            for (index, width) in row.zip(widths) {
                let word = WAYS[index].words;
                if choice(ui, style, word, &format!("by {word}"), state.way == index, width).clicked() {
                    state.way = index;
                }
            }
        });
    }
    for ((label, unit, _), value) in WAYS[state.way].readings.iter().zip(&mut state.values[state.way]) {
        ui.horizontal(|ui| {
            let mut shown = if *unit == ReadIn::Metres { units.from_metres(*value) } else { *value };
            let (speed, suffix) = match unit {
                ReadIn::Metres => (0.05, ""),
                ReadIn::Degrees => (0.1, "°"),
                ReadIn::Whole => (0.05, ""),
                ReadIn::Pixels => (1.0, " px"),
            };
            let digits = if matches!(unit, ReadIn::Whole | ReadIn::Pixels) { 0 } else { 2 };
            let suffix = if *unit == ReadIn::Metres { format!(" {}", units.name()) } else { suffix.to_owned() };
            let response = ui.add(DragValue::new(&mut shown).speed(speed).max_decimals(digits).suffix(suffix));
            response.widget_info(|| WidgetInfo::labeled(WidgetType::DragValue, true, *label));
            if response.changed() {
                *value = if *unit == ReadIn::Metres { units.to_metres(shown) } else { shown };
            }
            ui.label(style.note(*label));
        });
    }
    let by = state.by();
    let found: Result<FoundHeight, HeightError> = by.found();
    match found {
        Err(error) => {
            ui.label(style.plain(capital(&error.to_string())));
            None
        }
        Ok(found) => {
            let words = height_words(found.height_m, found.pm_m, units);
            ui.label(style.title(words));
            if let Some((first, _)) = found.shares.first() {
                ui.label(style.note(format!("most of the doubt comes from {first}")));
            }
            let width = ui.available_width();
            button(ui, style, "Use this height", width).clicked().then(|| {
                ui.close();
                let to_centimetre = |metres: f64| (metres * 100.0).round() / 100.0;
                AgreedHeight {
                    height_m: to_centimetre(found.height_m),
                    pm_m: to_centimetre(found.pm_m),
                    from: by.words(Units::M),
                }
            })
        }
    }
}
