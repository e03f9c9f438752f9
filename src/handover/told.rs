//! How is a stance told to people: where it is, what stands there, what is needed and what to beware of?

use crate::angle::Angle;
use crate::cautions::{Caution, CautionKind, drop_beside_m};
use crate::place::Geographic;
use crate::site::{Access, Block, Finish, Site, Stance, Support};
use crate::stance::Standing;
use crate::survey::{Measured, Survey};
use crate::units::Units;
use crate::wording::capital;

use super::plane_of;
use super::words::PageWords;

/// A block within this distance names the place beside it, if the subject is much farther away.
const BESIDE_M: f64 = 12.0;
/// So much nearer than the subject it must be.
const BESIDE_SHARE: f64 = 0.3;

/// What a place is known by.
enum Landmark {
    /// The deck or ground that one stands on.
    Named(String),
    /// A block close by.
    Beside(String),
    /// Which of the eight directions it lies in, as seen from the subject.
    Side(usize),
}

/// Tells stances of one site in one language and unit.
#[derive(Clone, Copy)]
pub(super) struct Teller<'a> {
    pub(super) survey: &'a Survey,
    pub(super) words: &'a PageWords,
    pub(super) units: Units,
}

impl Teller<'_> {
    fn site(&self) -> &Site {
        &self.survey.model.site
    }

    /// A block in a sentence.
    pub(super) fn block(&self, block: &Block) -> String {
        match (block.is_named(), block.name.strip_prefix("the ")) {
            (true, Some(name)) => self.words.the(name),
            (true, None) => self.words.the(&block.name),
            (false, _) if block.subject => self.words.the_subject(),
            (false, _) => block.words().to_owned(),
        }
    }

    /// What the picture is about, in a sentence.
    pub(super) fn subject(&self) -> String {
        let body = self.survey.subject.as_ref().ok().map(|subject| &self.site().blocks[subject.body]);
        body.map_or_else(|| self.words.the_subject(), |body| self.block(body))
    }

    /// A length as one tells it to others.
    pub(super) fn roundly(&self, metres: f64) -> String {
        self.words.figures(&self.units.roundly(metres))
    }

    /// A length with so many digits.
    pub(super) fn length(&self, metres: f64, digits: usize) -> String {
        self.words.figures(&self.units.length(metres + 0.0, digits)).replace('-', "−")
    }

    /// A short length as one measures it on site.
    pub(super) fn by_tape(&self, metres: f64) -> String {
        self.words.figures(&self.units.by_tape(metres))
    }

    /// An angle without its sign, to a tenth of a degree.
    pub(super) fn degrees(&self, angle: Angle) -> String {
        self.words.figures(&crate::wording::degrees(angle.degrees().abs()))
    }

    fn landmark(&self, standing: &Standing) -> Landmark {
        let eye = standing.pose.eye;
        let footing = standing.footing.as_ref();
        if let Some(name) = footing.and_then(|footing| footing.name.as_ref()) {
            return Landmark::Named(self.words.the(name));
        }
        let subject_m = self.survey.subject.as_ref().map_or(f64::INFINITY, |subject| subject.distance_m(&eye));
        let outside = |value: f64, low: f64, high: f64| (low - value).max(value - high).max(0.0);
        let near = self
            .site()
            .blocks
            .iter()
            .zip(&self.survey.model.solids)
            .filter(|(block, _)| !block.subject && block.is_named() && block.finish != Finish::Leaf)
            .map(|(block, solid)| {
                let (low, high) = solid.bounds();
                (outside(eye.x, low.x, high.x).hypot(outside(eye.y, low.y, high.y)), block)
            })
            .filter(|(away_m, _)| *away_m <= BESIDE_M.min(BESIDE_SHARE * subject_m))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, block)) = near {
            return Landmark::Beside(self.block(block));
        }
        let middle = self.survey.subject.as_ref().map_or((0.0, 0.0), |subject| (subject.middle.x, subject.middle.y));
        let bearing_deg = Angle::bearing_of(eye.x - middle.0, eye.y - middle.1).compass_degrees();
        Landmark::Side((bearing_deg / 45.0).round() as usize % 8)
    }

    /// Whence the picture is taken: "from the coal stage", "from the south".
    pub(super) fn from(&self, standing: &Standing) -> String {
        match self.landmark(standing) {
            Landmark::Named(place) => self.words.from_named(&place),
            Landmark::Beside(place) => self.words.from_beside(&place),
            Landmark::Side(eighth) => self.words.from_side(&self.words.direction(eighth)),
        }
    }

    /// What each stance is called among the others: what its planner calls it, without how one stands there; by its landmark
    /// where it has a number only; by its whole name where two would be called the same.
    pub(super) fn labels(&self, stances: &[(&Stance, &Standing)]) -> Vec<String> {
        let short = |(stance, standing): &(&Stance, &Standing)| {
            let head = stance.name.split(',').next().unwrap_or_default().trim();
            if is_numbered(head) {
                return capital(&match self.landmark(standing) {
                    Landmark::Named(place) => place,
                    Landmark::Beside(place) => self.words.label_beside(&place),
                    Landmark::Side(eighth) => self.words.label_side(&self.words.direction(eighth)),
                });
            }
            capital(head)
        };
        let labels: Vec<String> = stances.iter().map(short).collect();
        let twice = |label: &String| labels.iter().filter(|other| *other == label).count() > 1;
        labels
            .iter()
            .zip(stances)
            .map(|(label, (stance, _))| if twice(label) { capital(&stance.name) } else { label.clone() })
            .collect()
    }

    /// How far away the subject is: "84 m from the stack".
    pub(super) fn away(&self, measured: &Measured) -> Option<String> {
        Some(self.words.away(&self.roundly(measured.account.distance_m?), &self.subject()))
    }

    /// What a stance needs beyond a camera.
    pub(super) fn needs(&self, measured: &Measured) -> Vec<String> {
        let (words, standing) = (self.words, &measured.standing);
        let has = |kind: CautionKind| measured.cautions.iter().any(|caution| caution.kind == kind);
        let footing = standing.footing.as_ref();
        let mut needs = Vec::new();
        if has(CautionKind::Closed) {
            needs.push(words.need_consent());
        }
        if has(CautionKind::Ask) {
            let name = footing.and_then(|footing| footing.name.as_deref());
            needs.push(
                name.map_or_else(|| words.need_permission_here(), |name| words.need_permission(&words.the(name))),
            );
        }
        if footing.is_some_and(|footing| footing.support == Support::Water) {
            needs.push(words.need_boat());
        }
        if has(CautionKind::Ladder) {
            needs.push(words.need_ladder());
        }
        if has(CautionKind::Flying) {
            needs.push(words.need_lift(&self.roundly(above_m(standing))));
        }
        if standing.camera.rise_mm.abs() > 0.05 || standing.camera.shift_mm.abs() > 0.05 {
            needs.push(words.need_lens());
        }
        needs
    }

    /// What to beware of at a stance, beside permission and closed ground.
    pub(super) fn warning(&self, standing: &Standing, caution: &Caution) -> Option<String> {
        let words = self.words;
        Some(match caution.kind {
            CautionKind::Closed | CautionKind::Ask => return None,
            CautionKind::Fall => {
                let eye = standing.pose.eye;
                let from_m = standing.footing.as_ref()?.height_m;
                words.warn_fall(&self.length(drop_beside_m(&self.survey.model, (eye.x, eye.y), from_m), 1))
            }
            CautionKind::Ladder => words.warn_ladder(&self.length(above_m(standing), 1)),
            CautionKind::Flying => words.warn_lift(&self.roundly(above_m(standing))),
            CautionKind::Water
                if standing.footing.as_ref().is_some_and(|footing| footing.support == Support::Water) =>
            {
                words.warn_on_water()
            }
            CautionKind::Water => words.warn_water(),
            CautionKind::Sun => words.warn_sun(),
            CautionKind::Reach => words.warn_reach(),
            // What the site's author wrote is told as it is.
            CautionKind::Site => caution.text.clone(),
        })
    }
}

/// Whether a name is no more than a number with a word before it.
fn is_numbered(name: &str) -> bool {
    let letters = name.chars().filter(|letter| letter.is_alphabetic()).count();
    let counted = ["stance", "print", "standpoint", "view", "copy"]
        .iter()
        .any(|word| name.to_lowercase().strip_prefix(word).is_some_and(|rest| !rest.contains(char::is_alphabetic)));
    letters == 0 || counted
}

/// The camera above what lies below it.
fn above_m(standing: &Standing) -> f64 {
    standing.height_m().unwrap_or(standing.pose.eye.z)
}

/// Whether a stance may be taken without asking anybody.
pub(super) fn is_open(measured: &Measured) -> bool {
    measured.standing.footing.as_ref().is_none_or(|footing| footing.access == Access::Open)
}

/// Where the camera is on the Earth.
pub(super) fn geographic_of(survey: &Survey, measured: &Measured) -> Option<Geographic> {
    plane_of(&survey.model.site)?.geographic_from_world(&measured.standing.pose.eye)
}
