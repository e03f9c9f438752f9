//! What does a stance on this site amount to? Everything of the core, put together once for the command line, the window
//! and the tests.

use std::path::Path;

use crate::angle::Angle;
use crate::appraise::{Account, Measures, appraise};
use crate::cautions::{Caution, cautions};
use crate::light::{Moment, PlannedLight};
use crate::optics::{Kit, PixelPoint};
use crate::outline::{OutlineError, Subject};
use crate::record::{Findings, PlannedRecord, Record, SiteMark};
use crate::sight::{Sight, Surface};
use crate::site::{Front, LoadedSite, Model, Site, Stance, Sun};
use crate::stance::{StanceError, Standing, stand};
use crate::tolerance::{Allowed, Tolerance, Tolerances, tolerances};
use crate::verdict::Verdict;

/// A site made ready for measuring.
#[derive(Debug)]
pub struct Survey {
    /// The site with its solids.
    pub model: Model,
    /// The site's name, file and fingerprint.
    pub mark: SiteMark,
    /// Every format and lens that can be named on it.
    pub kit: Kit,
    /// What the picture is about, or why there is no such thing.
    pub subject: Result<Subject, OutlineError>,
    /// What can be seen from where.
    pub sight: Sight,
}

/// What to measure by.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct MeasureSettings {
    /// Thresholds and what straightening should give.
    pub measures: Measures,
    /// The change of lean by which the tolerance is measured; nobody asks for the tolerance without one.
    pub lean_change: Option<Angle>,
    /// Where the sun stands, in place of the site's own and of the moment's.
    pub sun: Option<Sun>,
    /// The moment that the picture is planned for; on a site without a place on the Earth it has no light.
    pub moment: Option<Moment>,
}

/// A stance with all that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// The stance as taken up.
    pub standing: Standing,
    /// The full account.
    pub account: Account,
    /// Whether the picture is upright, in parts.
    pub verdict: Verdict,
    /// How exactly one must stand, where it was asked for and is known: with the camera aimed anew after a move.
    pub tolerance: Option<Tolerance>,
    /// The same with the camera as it was set.
    pub tolerance_as_set: Option<Tolerance>,
    /// Where the sun stands.
    pub sun: Option<Sun>,
    /// The moment that it is planned for, with its light.
    pub planned: Option<PlannedLight>,
    /// What to beware of.
    pub cautions: Vec<Caution>,
}

impl MeasureSettings {
    /// The requirements by which a record was measured.
    pub fn of_record(record: &Record) -> Self {
        let measures = &record.measured_by;
        Self {
            measures: Measures {
                upright: Angle::from_degrees(measures.upright_deg),
                shortest_stretch: measures.shortest_stretch,
                seen_share: measures.seen_share,
                wanted_detail: measures.wanted_detail_px_per_m,
                tilt_left: measures.tilt_left,
                proportion: measures.proportion,
            },
            lean_change: measures.lean_change_deg.map(Angle::from_degrees),
            sun: record.sun,
            moment: record.planned.as_ref().and_then(PlannedRecord::moment),
        }
    }
}

/// A site's name, file and fingerprint, and the kit that can be named on it by a person who has a kit of their `own`.
fn marked(loaded: &LoadedSite, own: Option<&Kit>) -> (SiteMark, Kit) {
    let file = loaded.path.file_name().unwrap_or(loaded.path.as_os_str()).to_string_lossy().into_owned();
    let mark = SiteMark { name: loaded.site.name.clone(), file, sha256: loaded.hash.clone(), water_level_m: None };
    (mark, loaded.site.kit_with(own))
}

impl Survey {
    /// Makes a site ready.
    pub fn of(loaded: LoadedSite) -> Self {
        Self::with_kit(loaded, None)
    }

    /// Makes a site ready for a person with a kit of their `own`.
    pub fn with_kit(loaded: LoadedSite, own: Option<&Kit>) -> Self {
        let (mark, kit) = marked(&loaded, own);
        Self::ready(Model::build(loaded.site), kit, mark)
    }

    /// Reads a site file and makes it ready.
    ///
    /// # Errors
    /// The file cannot be read, or everything that is wrong with it.
    pub fn open(path: &Path) -> Result<Self, crate::site::SiteError> {
        crate::site::read_site(path).map(Self::of)
    }

    /// The light that pictures of the site are drawn in: the sun that is `given`, else the default one.
    pub fn light(&self, given: Option<Sun>) -> Sun {
        given.unwrap_or_else(|| self.default_light())
    }

    /// Where light comes from on a site of which nobody has said where the sun stands: from in front of the subject, a
    /// quarter turn's half to the left of whoever looks at it, 40° high (common practice, no source). In front is where the
    /// site's first stance stands, else south.
    fn default_light(&self) -> Sun {
        let first = self.model.site.stances.first().map(|stance| stance.at);
        let towards_deg = match (&self.subject, first) {
            (Ok(subject), Some(at)) => (at.0 - subject.middle.x).atan2(at.1 - subject.middle.y).to_degrees(),
            _ => 180.0,
        };
        Sun { azimuth_deg: (towards_deg + 45.0).rem_euclid(360.0), altitude_deg: 40.0 }
    }

    /// The same site without some of its blocks, by name: what one sees once they are taken away.
    #[must_use]
    pub fn without(&self, blocks: &[String]) -> Self {
        let mut fewer = self.model.site.clone();
        fewer.blocks.retain(|block| !blocks.contains(&block.name));
        self.with_site(fewer)
    }

    /// The same site with one of its blocks, by name, as its only subject.
    #[must_use]
    pub fn about(&self, subject: &str) -> Self {
        let mut site = self.model.site.clone();
        for block in &mut site.blocks {
            block.subject = block.name == subject;
        }
        self.with_site(site)
    }

    /// What the site would be otherwise, under the same name and with the same kit.
    pub(crate) fn with_site(&self, site: Site) -> Self {
        Self::ready(self.model.rebuilt(site), self.kit.clone(), self.mark.clone())
    }

    /// What the site would be otherwise, for a look in passing: what is alike is not made anew. The kit is that of a person with
    /// a kit of their `own`.
    #[must_use]
    pub fn tried(&self, site: Site, own: Option<&Kit>) -> Self {
        let kit = site.kit_with(own);
        let same_ground = self.model.site.terrain == site.terrain;
        let model = self.model.rebuilt(site);
        let sight = if same_ground { self.sight.grafted(&self.model, &model) } else { Sight::over(&model) };
        Self { subject: Subject::of(&model), sight, kit, mark: self.mark.clone(), model }
    }

    /// What becomes of this site after a change that lasts, as it was loaded anew.
    #[must_use]
    pub fn changed(&self, loaded: LoadedSite, own: Option<&Kit>) -> Self {
        let (mark, kit) = marked(&loaded, own);
        Self::ready(self.model.rebuilt(loaded.site), kit, mark)
    }

    /// The same site with the water at another height than its file says, in metres of the site.
    #[must_use]
    pub fn flooded(&self, level_m: f64) -> Self {
        let site = Site { water_level_m: Some(level_m), ..self.model.site.clone() };
        let model = self.model.rebuilt(site);
        Self {
            sight: self.sight.grafted(&self.model, &model),
            subject: Subject::of(&model),
            kit: self.kit.clone(),
            mark: SiteMark { water_level_m: Some(level_m), ..self.mark.clone() },
            model,
        }
    }

    /// A model made ready.
    pub(crate) fn ready(model: Model, kit: Kit, mark: SiteMark) -> Self {
        Self { subject: Subject::of(&model), sight: Sight::over(&model), kit, mark, model }
    }

    /// Takes up a stance.
    ///
    /// # Errors
    /// Its lens, place or aim is impossible.
    pub fn stand(&self, stance: &Stance) -> Result<Standing, StanceError> {
        stand(&self.model, self.subject.as_ref().ok(), stance, &self.kit)
    }

    /// The account of a stance that is taken up.
    pub fn appraise(&self, standing: &Standing, measures: &Measures) -> Account {
        let subject = self.subject.as_ref().map_err(|error| *error);
        appraise(&self.model, subject, Some(&self.sight), standing, measures)
    }

    /// Takes up a stance and measures all there is.
    ///
    /// # Errors
    /// Its lens, place or aim is impossible.
    pub fn measure(&self, stance: &Stance, settings: &MeasureSettings) -> Result<Measured, StanceError> {
        let standing = self.stand(stance)?;
        let account = self.appraise(&standing, &settings.measures);
        let subject = self.subject.as_ref().ok();
        let light_of = |moment| PlannedLight::of(&self.model, subject, &self.sight, &standing, moment).ok();
        let planned = settings.moment.and_then(light_of);
        let sun = settings.sun.or(planned.as_ref().map(|planned| planned.sun.seen())).or(self.model.site.sun);
        let tolerances = self.tolerances(stance, &standing, settings);
        let cautions = cautions(&self.model, &standing, sun);
        let verdict = Verdict::of(&self.model, &account, &settings.measures);
        let (tolerance, tolerance_as_set) = (tolerances.map(|both| both.anew), tolerances.map(|both| both.as_set));
        Ok(Measured { standing, account, verdict, tolerance, tolerance_as_set, sun, planned, cautions })
    }

    /// How exactly one must stand; `None` where nobody asks, or nothing is known.
    pub fn tolerances(&self, stance: &Stance, standing: &Standing, settings: &MeasureSettings) -> Option<Tolerances> {
        let subject = self.subject.as_ref().ok()?;
        let allowed = Allowed { measures: &settings.measures, lean_change: settings.lean_change? };
        tolerances(&self.model, subject, Some(&self.sight), stance, standing, allowed)
    }

    /// The wall of the subject that a camera draws at a pixel, as a site names its front; `None` where it draws anything else there.
    pub fn front_at(&self, standing: &Standing, pixel: PixelPoint) -> Option<Front> {
        let view = standing.camera.view_from_pixel(pixel)?;
        let direction = standing.pose.attitude.view_from_world().transpose() * view;
        let hit = self.sight.first_hit(&standing.pose.eye, &direction.try_normalize(1e-12)?, 0.0)?;
        let Surface::Block { block, triangle } = hit.surface else { return None };
        let described = self.model.site.blocks.get(block as usize).filter(|block| block.subject)?;
        let solid = &self.model.solids[block as usize];
        let normal = solid.faces[solid.triangles.get(triangle as usize)?.face as usize].normal;
        let wall = normal.xy().norm() > normal.z.abs();
        let toward_deg = Angle::bearing_of(normal.x, normal.y).compass_degrees();
        // As exactly as a person would write it.
        let toward_deg = (toward_deg * 10.0).round() / 10.0 % 360.0;
        wall.then(|| Front::Face { block: described.name.clone(), toward_deg })
    }

    /// Writes down what was measured of a stance.
    pub fn record(&self, stance: &Stance, measured: &Measured, settings: &MeasureSettings) -> Record {
        let findings = Findings {
            site: &self.mark,
            described: stance,
            standing: &measured.standing,
            account: &measured.account,
            measures: &settings.measures,
            verdict: &measured.verdict,
            tolerance: measured.tolerance.as_ref(),
            tolerance_as_set: measured.tolerance_as_set.as_ref(),
            lean_change: settings.lean_change,
            sun: measured.sun,
            planned: measured.planned.as_ref(),
            cautions: &measured.cautions,
        };
        Record::of(&self.model, findings)
    }
}
