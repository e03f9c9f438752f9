//! What remains in the final picture?

use crate::angle::Angle;
use crate::appraise::Account;
use crate::optics::Frame;
use crate::verticals::Detail;

/// The one currency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// By how much the subject converges toward its top.
    pub convergence: Option<Angle>,
    /// The largest lean of the subject's verticals.
    pub largest_lean: Option<Angle>,
    /// Whether that reads as upright.
    pub reads_upright: Option<bool>,
    /// The largest lean of anything in view.
    pub largest_in_picture: Option<Angle>,
    /// The lowest detail at any visible point of the subject.
    pub detail: Option<Detail>,
    /// Pixels of the final picture, in millions.
    pub megapixels: f64,
    /// The share of the subject's facing surface with a free line.
    pub visible_share: Option<f64>,
    /// The elevation at which the top is seen.
    pub top_elevation: Option<Angle>,
    /// The plan distance to the subject.
    pub distance_m: Option<f64>,
}

impl Figures {
    /// Those of an account, for a picture that is kept whole.
    pub fn of(account: &Account, frame: &Frame) -> Self {
        Self {
            convergence: account.convergence.map(|convergence| convergence.angle()),
            largest_lean: account.largest_lean,
            reads_upright: account.reads_upright,
            largest_in_picture: account.largest_in_picture.map(|noticed| noticed.lean),
            detail: account.lowest_detail.map(|(detail, _)| detail),
            megapixels: frame.megapixels(),
            visible_share: account.visible_share,
            top_elevation: account.top_elevation,
            distance_m: account.distance_m,
        }
    }
}
