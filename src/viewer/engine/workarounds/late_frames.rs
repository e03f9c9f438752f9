//! When must the window be drawn once more, though nothing has changed since?
//!
//! Mends: new letters and pictures, which bevy_egui hands to the graphics card after the frame that shows them first; and a
//! window of another size, which the engine measures after the panels were laid out for the old one. A window that draws on need
//! would keep the first of these frames, with letters missing or its sides cut off, until the mouse moves.
//!
//! Remove when bevy_egui lays out panels for the size of the same frame, and draws each texture in the frame that makes it.

use bevy::prelude::*;
use bevy::window::PrimaryWindow;
use bevy_egui::{EguiContext, EguiFullOutput};

/// Frames after a change of size until everything is laid out for it: the engine measures, the panels are laid out, and what
/// they learn in doing so is laid out again.
const AFTER_SIZE: u32 = 3;

/// What is still to be drawn.
#[derive(Debug, Default)]
pub(in crate::viewer) struct LateFrames {
    /// The window's pixels, and its pixels to a point.
    size: Option<(UVec2, f32)>,
    left: u32,
}

impl LateFrames {
    /// Whether one more frame is wanted after one at this size, which brought new textures or did not.
    fn are_due(&mut self, size: Option<(UVec2, f32)>, has_new_textures: bool) -> bool {
        if self.size != size {
            (self.size, self.left) = (size, AFTER_SIZE);
        } else {
            self.left = self.left.saturating_sub(1);
        }
        self.left = self.left.max(u32::from(has_new_textures));
        self.left > 0
    }
}

/// Asks for one more frame where there is one due. To be run between the end of the panels' pass and the reading of its output.
pub(in crate::viewer) fn draw_again(
    mut contexts: Query<(&mut EguiContext, &EguiFullOutput)>,
    windows: Query<&Window, With<PrimaryWindow>>,
    mut late: Local<LateFrames>,
) {
    let size = windows.single().ok().map(|window| (window.physical_size(), window.scale_factor()));
    for (mut context, output) in &mut contexts {
        let has_new_textures = output.0.as_ref().is_some_and(|output| !output.textures_delta.set.is_empty());
        if late.are_due(size, has_new_textures) {
            context.get_mut().request_repaint();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_of_another_size_is_drawn_until_it_is_laid_out_and_then_rests() {
        let mut late = LateFrames::default();
        let (small, large) = (Some((UVec2::new(900, 600), 1.0)), Some((UVec2::new(1280, 720), 1.0)));
        let frames = |late: &mut LateFrames, size| (0..10).take_while(|_| late.are_due(size, false)).count();
        assert_eq!(frames(&mut late, small), 3, "after the start");
        assert_eq!(frames(&mut late, small), 0, "at rest");
        assert_eq!(frames(&mut late, large), 3, "after a change of size");
        assert_eq!(frames(&mut late, Some((UVec2::new(1280, 720), 2.0))), 3, "on a finer screen");
    }

    #[test]
    fn letters_that_are_new_are_drawn_in_one_frame_more() {
        let mut late = LateFrames::default();
        while late.are_due(None, false) {}
        assert!(late.are_due(None, true));
        assert!(!late.are_due(None, false));
    }
}
