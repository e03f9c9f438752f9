//! What does a plan show of the world?

use crate::site::PlanPoint;

use super::room::CanvasPoint;
use super::shapes::SiteShapes;

/// The closest look, and the widest.
const METRES_PER_POINT: (f64, f64) = (1e-3, 1e3);
/// How much more than stance and subject take is shown about them.
const AROUND: f64 = 1.3;
/// A plan of a stance shows at least so much.
const NEAREST_M: f64 = 24.0;

/// What a plan shows of the world: north is up, one scale both ways.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanView {
    /// The plan position in the middle of the canvas.
    pub centre: PlanPoint,
    /// How much of the world one point of the canvas shows.
    pub metres_per_point: f64,
    /// The canvas's width.
    pub width_pt: f64,
    /// The canvas's height.
    pub height_pt: f64,
}

impl PlanView {
    /// The view that holds all these places with some space around them; 50 m about the origin without any.
    pub fn around(places: impl IntoIterator<Item = PlanPoint>, width_pt: f64, height_pt: f64) -> Self {
        let finite = |place: &PlanPoint| place.0.is_finite() && place.1.is_finite();
        let bounds = places.into_iter().filter(finite).fold(None, |bounds: Option<(PlanPoint, PlanPoint)>, (x, y)| {
            let (low, high) = bounds.unwrap_or(((x, y), (x, y)));
            Some(((low.0.min(x), low.1.min(y)), (high.0.max(x), high.1.max(y))))
        });
        let (low, high) = bounds.unwrap_or(((-50.0, -50.0), (50.0, 50.0)));
        // Title, compass and scale bar stand in the margin.
        let (across, down) =
            ((width_pt - 48.0).max(0.75 * width_pt).max(20.0), (height_pt - 64.0).max(0.6 * height_pt).max(20.0));
        let metres_per_point = ((high.0 - low.0).max(4.0) / across).max((high.1 - low.1).max(4.0) / down);
        let centre = (0.5 * (low.0 + high.0), 0.5 * (low.1 + high.1));
        Self { centre, metres_per_point, width_pt, height_pt }.clamped()
    }

    /// The view of everything that stands on a site, and of these places.
    pub fn whole(shapes: &SiteShapes, places: &[PlanPoint], width_pt: f64, height_pt: f64) -> Self {
        let corners = shapes.bounds().map(|(low, high)| [low, high]).into_iter().flatten();
        Self::around(corners.chain(places.iter().copied()), width_pt, height_pt)
    }

    /// The view of a stance and its subject, with what lies about them; never less than 24 m across.
    pub fn near(places: impl IntoIterator<Item = PlanPoint>, width_pt: f64, height_pt: f64) -> Self {
        let mut view = Self::around(places, width_pt, height_pt);
        let least = NEAREST_M / width_pt.min(height_pt).max(1.0);
        view.metres_per_point = (view.metres_per_point * AROUND).max(least);
        view.clamped()
    }

    /// Whether this view still serves where `needed` is what a stance and its subject take: a plan that follows every step
    /// would swim.
    pub fn serves(&self, needed: &Self, eye: PlanPoint) -> bool {
        let (x, y) = self.point_of(eye);
        let (margin_x, margin_y) = (0.1 * self.width_pt, 0.1 * self.height_pt);
        let holds_eye =
            (margin_x..=self.width_pt - margin_x).contains(&x) && (margin_y..=self.height_pt - margin_y).contains(&y);
        let same_canvas = (self.width_pt, self.height_pt) == (needed.width_pt, needed.height_pt);
        let ratio = self.metres_per_point / needed.metres_per_point;
        same_canvas && holds_eye && (0.8..=2.0).contains(&ratio)
    }

    pub(super) fn clamped(mut self) -> Self {
        self.metres_per_point = self.metres_per_point.clamp(METRES_PER_POINT.0, METRES_PER_POINT.1);
        self
    }

    /// Where a plan position is on the canvas.
    pub fn point_of(&self, (x, y): PlanPoint) -> CanvasPoint {
        (
            0.5 * self.width_pt + (x - self.centre.0) / self.metres_per_point,
            0.5 * self.height_pt - (y - self.centre.1) / self.metres_per_point,
        )
    }

    /// The plan position at a place of the canvas: where a click on it lands.
    ///
    /// # Example
    /// ```
    /// use plumbsight::drawing::PlanView;
    /// let view = PlanView { centre: (10.0, 20.0), metres_per_point: 0.5, width_pt: 200.0, height_pt: 100.0 };
    /// assert_eq!(view.plan_of((100.0, 50.0)), (10.0, 20.0));
    /// assert_eq!(view.plan_of((120.0, 40.0)), (20.0, 25.0)); // 20 points right, 10 up
    /// ```
    pub fn plan_of(&self, (x, y): CanvasPoint) -> PlanPoint {
        (
            self.centre.0 + (x - 0.5 * self.width_pt) * self.metres_per_point,
            self.centre.1 - (y - 0.5 * self.height_pt) * self.metres_per_point,
        )
    }

    /// The view seen so many times as close, the world staying under one place of the canvas.
    #[must_use]
    pub fn zoomed(&self, at: CanvasPoint, times: f64) -> Self {
        if !(times.is_finite() && times > 0.0) {
            return *self;
        }
        let under = self.plan_of(at);
        let mut view = Self { metres_per_point: self.metres_per_point / times, ..*self }.clamped();
        let now = view.plan_of(at);
        view.centre = (view.centre.0 + under.0 - now.0, view.centre.1 + under.1 - now.1);
        view
    }

    /// The view with the world dragged so many points to the right and down.
    #[must_use]
    pub fn dragged(&self, right_pt: f64, down_pt: f64) -> Self {
        let by = self.metres_per_point;
        Self { centre: (self.centre.0 - right_pt * by, self.centre.1 + down_pt * by), ..*self }
    }

    /// The same on another canvas.
    #[must_use]
    pub fn sized(&self, width_pt: f64, height_pt: f64) -> Self {
        Self { width_pt, height_pt, ..*self }
    }

    pub(super) fn bounds(&self) -> (PlanPoint, PlanPoint) {
        let (low, high) = (self.plan_of((0.0, self.height_pt)), self.plan_of((self.width_pt, 0.0)));
        (low, high)
    }

    pub(super) fn ring(&self, ring: &[PlanPoint]) -> Vec<CanvasPoint> {
        ring.iter().map(|&corner| self.point_of(corner)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plan_opens_on_stance_and_subject_and_does_not_follow_every_step() {
        // A subject 10 m wide, 40 m north of the eye, in a town a kilometre wide.
        let of = |eye: PlanPoint| PlanView::near([eye, (-5.0, 38.0), (5.0, 44.0)], 300.0, 220.0);
        let view = of((0.0, 0.0));
        assert!(
            view.metres_per_point * view.height_pt > 44.0 && view.metres_per_point * view.height_pt < 120.0,
            "{view:?}"
        );
        assert!(view.serves(&of((2.0, 1.0)), (2.0, 1.0)), "a step or two");
        assert!(!view.serves(&of((0.0, -90.0)), (0.0, -90.0)), "off the plan");
        assert!(!view.serves(&of((0.0, 30.0)), (0.0, 30.0)), "far too small");
        assert!(!view.serves(&view.sized(400.0, 220.0), (0.0, 0.0)), "on another canvas");
        // At the subject's foot there is still something to see.
        let close = PlanView::near([(0.0, 0.0), (0.5, 0.5)], 300.0, 220.0);
        assert!(close.metres_per_point * 220.0 >= 24.0);
    }
}
