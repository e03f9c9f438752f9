//! What remains in the final picture?

use crate::angle::Angle;
use crate::appraise::{Account, FinalPicture};
use crate::verticals::{Detail, StraightenFailure};

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
    /// The lowest detail of the subject in the final picture; in the picture as taken where there is no final one.
    pub detail: Option<Detail>,
    /// The picture that is handed over, or why there is none; absent without a subject.
    pub final_picture: Option<Result<FinalPicture, StraightenFailure>>,
    /// The share of the subject's facing surface with a free line.
    pub visible_share: Option<f64>,
    /// The elevation at which the top is seen.
    pub top_elevation: Option<Angle>,
    /// The plan distance to the subject.
    pub distance_m: Option<f64>,
}

impl Figures {
    /// Those of an account.
    pub fn of(account: &Account) -> Self {
        let kept = account.final_picture.and_then(Result::ok);
        let as_taken = account.lowest_detail.map(|(detail, _)| detail);
        Self {
            convergence: account.convergence.map(|convergence| convergence.angle()),
            largest_lean: account.largest_lean,
            reads_upright: account.reads_upright,
            largest_in_picture: account.largest_in_picture.map(|noticed| noticed.lean),
            detail: kept.and_then(|picture| picture.lowest_detail).or(as_taken),
            final_picture: account.final_picture,
            visible_share: account.visible_share,
            top_elevation: account.top_elevation,
            distance_m: account.distance_m,
        }
    }

    /// The picture that is handed over, where there is one.
    pub fn kept(&self) -> Option<FinalPicture> {
        self.final_picture?.ok()
    }

    /// Pixels of the final picture, in millions.
    pub fn megapixels(&self) -> Option<f64> {
        self.kept().map(|picture| picture.megapixels())
    }
}
