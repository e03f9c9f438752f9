//! What does a plan show of the world?

use crate::site::PlanPoint;

use super::room::CanvasPoint;
use super::shapes::SiteShapes;

/// The closest look, and the widest.
const METRES_PER_POINT: (f64, f64) = (1e-3, 1e3);
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
        let (across, down) = ((width_pt - 48.0).max(20.0), (height_pt - 64.0).max(20.0));
        let metres_per_point = ((high.0 - low.0).max(4.0) / across).max((high.1 - low.1).max(4.0) / down);
        let centre = (0.5 * (low.0 + high.0), 0.5 * (low.1 + high.1));
        Self { centre, metres_per_point, width_pt, height_pt }.clamped()
    }

    /// The view of everything that stands on a site, and of these places.
    pub fn whole(shapes: &SiteShapes, places: &[PlanPoint], width_pt: f64, height_pt: f64) -> Self {
        let corners = shapes.bounds().map(|(low, high)| [low, high]).into_iter().flatten();
        Self::around(corners.chain(places.iter().copied()), width_pt, height_pt)
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
