//! A site made ready, and stances on it measured as the command line measures them.

use plumbsight::angle::Angle;
use plumbsight::appraise::{Account, Measures, appraise};
use plumbsight::cautions::cautions;
use plumbsight::optics::Kit;
use plumbsight::outline::{OutlineError, Subject};
use plumbsight::record::{Findings, Record, SiteMark};
use plumbsight::sight::Sight;
use plumbsight::site::{Aim, Model, Site, Stance, parse_site, site_hash};
use plumbsight::slack::{SLACK_TOLERANCE_DEG, slack};
use plumbsight::stance::{StanceError, Standing, stand};

/// A site, ready to be measured from anywhere.
pub(crate) struct Ready {
    pub(crate) model: Model,
    pub(crate) subject: Result<Subject, OutlineError>,
    pub(crate) sight: Sight,
    pub(crate) kit: Kit,
    mark: SiteMark,
}

impl Ready {
    /// A site from the text of its file, which must be in order.
    pub(crate) fn read(text: &str, name: &str) -> Self {
        let site = parse_site(text, name).unwrap_or_else(|problems| panic!("{problems}"));
        Self::of(site, text, name)
    }

    /// A site of these blocks, written as in a file, on level ground.
    pub(crate) fn of_blocks(blocks: &str) -> Self {
        Self::read(&format!("Site(format: 1, name: \"test\", blocks: [{blocks}])"), "test")
    }

    /// A site that was read or made.
    pub(crate) fn of(site: Site, text: &str, file: &str) -> Self {
        let mark = SiteMark { name: site.name.clone(), file: file.into(), sha256: site_hash(text) };
        let kit = site.whole_kit();
        let model = Model::build(site);
        Self { subject: Subject::of(&model), sight: Sight::over(&model), kit, mark, model }
    }

    /// A stance taken up.
    pub(crate) fn stand(&self, stance: &Stance) -> Result<Standing, StanceError> {
        stand(&self.model, self.subject.as_ref().ok(), stance, &self.kit)
    }

    /// Everything measured of a stance that is taken up.
    pub(crate) fn account(&self, standing: &Standing, measures: &Measures) -> Account {
        let subject = self.subject.as_ref().map_err(|error| *error);
        appraise(&self.model, subject, Some(&self.sight), standing, measures)
    }

    /// The subject, which there must be.
    pub(crate) fn subject(&self) -> &Subject {
        self.subject.as_ref().expect("a subject")
    }

    /// What was measured, written down.
    pub(crate) fn record(&self, stance: &Stance, standing: &Standing, account: &Account) -> Record {
        let measures = Measures::default();
        let sun = self.model.site.sun;
        let cautions = cautions(&self.model, standing, sun);
        let tolerance = Angle::from_degrees(SLACK_TOLERANCE_DEG);
        let subject = self.subject.as_ref().ok();
        let slack = subject.and_then(|subject| slack(&self.model, subject, stance, standing, &self.kit, tolerance));
        let slack = slack.as_ref().map(|slack| (slack, tolerance));
        let findings = Findings {
            site: &self.mark,
            described: stance,
            standing,
            account,
            measures: &measures,
            slack,
            sun,
            cautions: &cautions,
        };
        Record::of(&self.model, findings)
    }
}

/// A stance at a place and height with a lens, aimed so.
pub(crate) fn stance(at: (f64, f64), height_m: f64, lens: &str, aim: Aim) -> Stance {
    Stance {
        name: "test".into(),
        at,
        height_m,
        on: None,
        eye_height_m: None,
        format: "36x24".into(),
        orientation: None,
        crop: None,
        lens: lens.into(),
        focal_mm: None,
        f_number: 8.0,
        focus_m: None,
        rise_mm: None,
        lateral_shift_mm: None,
        distortion: None,
        aim,
        note: None,
    }
}

/// Turned to a compass heading, pitched up and rolled.
pub(crate) const fn turned(heading_deg: f64, pitch_deg: f64, roll_deg: f64) -> Aim {
    Aim::Turned { heading_deg, pitch_deg, roll_deg }
}
