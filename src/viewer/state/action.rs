//! What can the walker do? Everything that keys, mouse and panels ask for, as plain data.

use super::build::BuildAction;
use super::camera::CameraAction;
use super::camera_moves::CameraMove;
use super::delivery::DeliveryAction;
use super::files::FileAction;
use super::light::LightAction;
use super::notices::NoticeAction;
use super::prints::PrintAction;
use super::search::SearchAction;
use super::settings::SettingAction;
use super::showing::ShowAction;
use super::work::WorkAction;

/// One thing that the walker does; each store takes its own.
///
/// Every `match` over these lists all of them, so that an action that nobody handles does not compile.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// Where the camera stands, and how it looks.
    Camera(CameraAction),
    /// The pinned stances.
    Print(PrintAction),
    /// What stands on the site.
    Build(BuildAction),
    /// The day and hour whose light is shown.
    Light(LightAction),
    /// The search for places.
    Search(SearchAction),
    /// What is handed over.
    Delivery(DeliveryAction),
    /// Sites opened and closed.
    File(FileAction),
    /// What is remembered, and how the window is arranged.
    Setting(SettingAction),
    /// The list of notices.
    Notice(NoticeAction),
    /// The presentation.
    Show(ShowAction),
    /// Work in the background.
    Work(WorkAction),
}

/// Lets every kind be given wherever an [`Action`] is asked for.
macro_rules! actions_of {
    ($($kind:ident => $variant:ident),+ $(,)?) => {
        $(impl From<$kind> for Action {
            fn from(action: $kind) -> Self {
                Self::$variant(action)
            }
        })+
    };
}

actions_of!(
    CameraAction => Camera,
    PrintAction => Print,
    BuildAction => Build,
    LightAction => Light,
    SearchAction => Search,
    DeliveryAction => Delivery,
    FileAction => File,
    SettingAction => Setting,
    NoticeAction => Notice,
    ShowAction => Show,
    WorkAction => Work,
);

impl From<CameraMove> for Action {
    fn from(wanted: CameraMove) -> Self {
        Self::Camera(CameraAction::Move(wanted))
    }
}
