//! How are figures plotted over one another? A still plot whose grid steps back and whose axes tell what their steps are.

use bevy_egui::egui::{Rangef, TextStyle, Ui};
use egui_plot::{AxisHints, GridInput, Plot, uniform_grid_spacer};

use crate::units::round_step;

use super::style::WindowStyle;

/// Lines of a grid that lie nearer than this, in points, are not drawn.
const NEAREST: f32 = 10.0;
/// Figures across want so many times that for themselves.
const FIGURE: f32 = 5.0;

/// A plot that stays as it is, however it is scrolled, dragged or clicked; its axes have these words.
pub(super) fn chart<'a>(style: &WindowStyle, name: &'a str, across: String, up: String) -> Plot<'a> {
    // The plot's own figures are rounded to the power of ten of their step: 0.5 would be written 0.
    let axis_across = AxisHints::new_x()
        .label(style.note(across))
        .label_spacing(Rangef::new(0.8 * style.px(FIGURE * NEAREST), style.px(FIGURE * NEAREST)))
        .formatter(|mark, range| {
            // At the very end of the axis there is no room for one.
            let room = 0.04 * (range.end() - range.start());
            if mark.value > range.end() - room { String::new() } else { axis_figure(mark.value, mark.step_size) }
        });
    Plot::new(name)
        // Lines are the fainter the nearer they lie; none is as strong as what is plotted.
        .grid_spacing(Rangef::new(style.px(NEAREST), style.px(600.0)))
        .x_grid_spacer(uniform_grid_spacer(|input| steps(input, f64::from(FIGURE))))
        .y_grid_spacer(uniform_grid_spacer(|input| steps(input, 0.0)))
        .custom_x_axes(vec![axis_across])
        .y_axis_formatter(|mark, _| axis_figure(mark.value, mark.step_size))
        .allow_scroll(false)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_boxed_zoom(false)
        .allow_double_click_reset(false)
        .y_axis_label(style.note(up))
}

/// Lets grid and figures step back behind what is plotted.
pub(super) fn step_back(ui: &mut Ui, style: &WindowStyle) {
    ui.visuals_mut().override_text_color = Some(style.soft());
    ui.style_mut().text_styles.insert(TextStyle::Body, style.figure());
}

/// From line to line of a grid: about five of them, at round values, and no nearer than so many times the nearest.
fn steps(input: GridInput, nearest: f64) -> [f64; 3] {
    let fifth = (input.bounds.1 - input.bounds.0).abs() / 5.0;
    let step = round_step(fifth.max(nearest * input.base_step_size)).unwrap_or(1.0);
    // None of them is more than another.
    [step; 3]
}

/// A figure beside an axis, with as many digits as its step has.
fn axis_figure(value: f64, step: f64) -> String {
    let whole = |digits: usize| {
        let steps = step * (0..digits).fold(1.0, |tens, _| 10.0 * tens);
        (steps - steps.round()).abs() < 1e-6 && steps.round() > 0.0
    };
    let digits = (0..=6).find(|&digits| whole(digits)).unwrap_or(6);
    format!("{:.digits$}", value + 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_are_written_to_the_digits_of_their_step() {
        for (value, step, text) in
            [(0.5, 0.5, "0.5"), (1.5, 0.5, "1.5"), (90.0, 10.0, "90"), (0.02, 0.02, "0.02"), (2.0, 1.0, "2")]
        {
            assert_eq!(axis_figure(value, step), text);
        }
    }

    #[test]
    fn grids_have_round_steps() {
        for (bounds, step) in [((0.0, 10.0), 2.0), ((0.4, 2.1), 0.5), ((60.0, 110.0), 10.0), ((0.0, 0.0), 1.0)] {
            let [found, _, _] = steps(GridInput { bounds, base_step_size: 1.0 }, 0.0);
            assert!((found / step - 1.0).abs() < 1e-9, "{bounds:?}: {found}");
        }
        // Where five figures find no room, there are fewer.
        let [found, _, _] = steps(GridInput { bounds: (0.0, 10.0), base_step_size: 0.7 }, 5.0);
        assert!((found - 5.0).abs() < 1e-9, "{found}");
    }
}
