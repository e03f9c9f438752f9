//! How does the desk come to a site, follow its file, and take in what other windows do on it?

use std::sync::Arc;

use crate::appraise::Measures;
use crate::bring::Brought;
use crate::plan::{Plan, merge};
use crate::site::Stance;
use crate::survey::{MeasureSettings, Survey};

use crate::viewer::state::build::OutsideChange;
use crate::viewer::state::effects::{Effect, Effects, SiteShow};
use crate::viewer::state::given_light::GivenLight;
use crate::viewer::state::notices::NoticeKind;
use crate::viewer::state::opening::{
    Home, OpenError, Opened, Source, StartError, first_stance, open, own_kit, somewhere,
};
use crate::viewer::state::settings::Settings;

use super::{BuildAction, Desk, SiteChange};

impl Desk {
    /// Files of footprints or heights were read: they join the site, and what is to be known of them is told.
    pub(super) fn brought(&mut self, brought: Result<Brought, String>, effects: &mut Effects) {
        match brought {
            Ok(brought) => {
                for line in brought.summary.iter().chain(&brought.warnings) {
                    effects.notice(NoticeKind::News, line.as_str());
                }
                let change = SiteChange::Bring(Box::new(brought));
                self.build.act(BuildAction::Change(change, None), &self.site, effects);
            }
            Err(why) => effects.notice(NoticeKind::Error, why),
        }
    }

    /// Opens a site for a person at home: with what they pinned on it, where they stood last and what they set.
    ///
    /// The camera takes up the `given` stance, else the one it left, else the site's first.
    ///
    /// # Errors
    /// The site cannot be opened, or the stance that was asked for is impossible.
    pub fn open(
        home: Home,
        source: Source,
        given: Option<Stance>,
        measure_settings: MeasureSettings,
    ) -> Result<Self, StartError> {
        let source = source.absolute();
        let (kit, kit_error) = own_kit(home.configuration.as_deref());
        let opened = open(&source, kit.as_ref())?;
        let (settings, settings_error) = match home.configuration.as_deref().map(Settings::read) {
            None => (Settings::default(), None),
            Some(Ok(settings)) => (settings, None),
            Some(Err(error)) => {
                (Settings::default(), Some(format!("settings unreadable; using the defaults: {error}")))
            }
        };
        let mut measure_settings = measure_settings;
        if measure_settings.measures.upright == Measures::default().upright {
            measure_settings.measures.upright = settings.upright;
        }
        // Somewhere to stand until the plan is read.
        let survey = &opened.survey;
        let wanted = given.clone().unwrap_or_else(|| source.first_stance(survey));
        let stance = if given.is_some() || survey.stand(&wanted).is_ok() { wanted } else { somewhere(survey) };
        let mut desk = Self::at(home, settings, survey.clone(), stance, measure_settings)?;
        desk.files.start_saving(kit, desk.settings.all());
        let mut effects = Effects::new(desk.works.next_id());
        for text in [kit_error, settings_error].into_iter().flatten() {
            effects.notice(NoticeKind::Error, text);
        }
        desk.arrive(&opened, given.is_none(), &mut effects);
        desk.finish(effects);
        Ok(desk)
    }

    /// Another site was opened, or could not be.
    pub(super) fn arrived(&mut self, opened: Result<Opened, OpenError>, effects: &mut Effects) {
        let opened = match opened {
            Ok(opened) => opened,
            Err(error) => {
                self.settings.not_opened(&error);
                return effects.notice(NoticeKind::Error, error.brief());
            }
        };
        self.files.stands_at(self.camera.stance());
        self.save(effects);
        let is_saved = self.files.finish();
        self.search.stop(effects);
        self.delivery.open(effects);
        self.site.open(opened.survey.clone());
        let survey = self.site.survey();
        self.notices.clear();
        if !is_saved {
            let text = "the last changes to the previous site's plan may not be saved";
            effects.notice(NoticeKind::Error, text);
        }
        self.camera.enter([opened.source.first_stance(survey), somewhere(survey)], survey, effects);
        self.arrive(&opened, true, effects);
    }

    /// Takes over the plan of the site that is shown, goes where the camera stood last, and watches the files.
    fn arrive(&mut self, opened: &Opened, take_up_last: bool, effects: &mut Effects) {
        let plan = self.files.follow(&opened.source, effects);
        let Plan { format: _, prints, bag, folder, against, laid, sun, moment, tide, last, sought } = plan;
        self.prints.open(prints, laid, against);
        self.settings.set_bag(bag);
        self.delivery.set_folder(folder);
        self.search.open(sought);
        self.light.open(tide, &self.site, effects);
        if !opened.warnings.is_empty() {
            effects.notice(NoticeKind::News, opened.warnings.clone());
        }
        self.settings.opened(&opened.source);
        let is_demo = matches!(opened.source, Source::Scene(_));
        self.build.open(&opened.text, &opened.path, is_demo, self.files.own_kit());
        self.camera.follow_plan(
            GivenLight::of_plan(sun, moment.as_deref()),
            last.filter(|_| take_up_last),
            self.site.survey(),
            effects,
        );
        self.files.watch(effects);
        self.with_delivery(|delivery, inputs| delivery.list_captures(inputs));
    }

    /// The site's file has changed on disk.
    pub(super) fn reloaded(&mut self, opened: Opened, effects: &mut Effects) {
        match self.build.changed_outside(&opened.text, &self.site, effects) {
            OutsideChange::Own => {}
            OutsideChange::Unsure => self.files.look_again(self.site.survey(), effects),
            OutsideChange::Theirs { change } => {
                effects.push(Effect::SiteStep { change, words: "Changed outside".into() });
                effects.push(Effect::ShowSite(opened.survey, SiteShow::Kept));
                if !opened.warnings.is_empty() {
                    effects.notice(NoticeKind::News, opened.warnings);
                }
                effects.notice(NoticeKind::News, "the site file changed and was reloaded");
            }
            OutsideChange::Merged => {
                effects.notice(NoticeKind::News, "the site file was changed outside, too; both changes are kept");
            }
            OutsideChange::Conflict => {
                let text = "the site file was changed outside in the same place; the Build desk asks which is kept";
                effects.notice(NoticeKind::Error, text);
            }
        }
    }

    /// Shows a site in place of the one that is shown: the same one, changed.
    pub(super) fn show_site(&mut self, survey: Arc<Survey>, how: SiteShow, effects: &mut Effects) {
        self.site.show(survey);
        self.showing.end();
        let survey = self.site.survey();
        match how {
            SiteShow::Tried => self.camera.follow_trial(survey, None),
            SiteShow::Visited(stance) => self.camera.follow_trial(survey, Some(&stance)),
            SiteShow::Kept if self.camera.measure_again(survey, effects) => {}
            // Where the camera stood is no place to stand any more.
            SiteShow::Kept => {
                let wanted = [first_stance(survey), somewhere(survey)];
                if let Some(stance) = wanted.into_iter().find(|stance| survey.stand(stance).is_ok()) {
                    effects.push(Effect::GoTo(Box::new(stance)));
                    let text = "the site changed and your standpoint is no longer possible; Undo tries it again";
                    effects.notice(NoticeKind::News, text);
                }
            }
        }
    }

    /// Shows the water as the tide table has it at the moment that is shown; as the site's file has it without either.
    pub(super) fn follow_tide(&mut self, effects: &mut Effects) {
        let moment = self.camera.measure_settings().moment;
        let level_m = moment.and_then(|moment| self.light.water_m(moment));
        if self.site.flood(level_m) {
            self.camera.measure_again(self.site.survey(), effects);
            effects.change();
        }
    }

    /// Takes over what another window made of the plan: from `base` it made `theirs`.
    pub(super) fn adopt(&mut self, base: &Plan, theirs: &Plan, effects: &mut Effects) {
        let mine = self.plan();
        let plan = merge(base, &mine, theirs);
        if plan == mine {
            return;
        }
        let new = plan.prints.iter().filter(|print| mine.print(print.id).is_none()).count();
        if new > 0 {
            let prints = if new == 1 { "a print".into() } else { format!("{new} prints") };
            effects.notice(NoticeKind::News, format!("{prints} added by another window on this site"));
        }
        // Where the camera stands and what is searched for is each window's own.
        let Plan { format: _, prints, bag, folder, against, laid, sun, moment, tide, last: _, sought: _ } = plan;
        self.prints.replace(prints, laid, against);
        self.settings.set_bag(bag);
        self.delivery.set_folder(folder);
        if tide != mine.tide {
            self.light.open(tide, &self.site, effects);
        }
        if (sun, &moment) != (mine.sun, &mine.moment) {
            self.camera.set_light(GivenLight::of_plan(sun, moment.as_deref()), self.site.survey(), effects);
        }
        effects.change();
    }
}
