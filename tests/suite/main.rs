//! Does the whole program do its job, measured against something outside it?
//!
//! One binary, one module a concern:
//!
//! - `reference`: published values, read from `tests/reference`, each with its source and tolerance
//! - `oracle`: live comparison with general-purpose libraries
//! - `oracle_account`: whole records, recomputed live from nothing but their own stance, camera and world points
//! - `oracle_place`: places on the Earth against pyproj, live
//! - `aims`: the least tilt and the aim for straightening against sweeps of pitch and focal length
//! - `arrange`: groups of blocks that were mirrored or repeated measure as if written by hand
//! - `agreement`: what is measured lies where it is pictured, and a straightened picture is the level one
//! - `properties`: mirrored, turned and scaled sites, sight against a general-purpose library, fills that fill
//! - `bring`: real places, files that other libraries write, and bad files through the importers
//! - `details`: the lowest detail is what a ruler on the subject would find
//! - `disturbed`: killed, hurried and misfed runs lose nothing
//! - `drawing`: plan, section and gauge show what was measured, legibly
//! - `desk`: whole journeys at the window's desk, without a screen
//! - `desks`: the Search and Hand over desks do what the core does, and show what it says
//! - `enough`: what is called enough, or needed, is the least that does
//! - `final_pictures`: what is handed over is the largest picture that may be made of what was taken
//! - `finder`: the graphics card draws what the core measures
//! - `panels`: the window shows what is measured, hears what is done to it, and holds together at every size
//! - `scenarios`: rules of the trade, as scenes with numbers
//! - `scenes`: every demo site is in order and tells its story
//! - `search`: the search of all places against measuring them one by one
//! - `search_light`: the search by light and tide against a watch at every place
//! - `spread`: the search spread over sites, subjects, pieces and machines
//! - `stances`: stances that cannot be, or hardly, get plain answers
//! - `sheets`: field cards and client sheets, read back by other programs, killed while they are written
//! - `cli`: the program itself, run in a temporary folder
//! - `still`: the picture shows what the measurements say
//! - `pictures`: pictures tell how they were taken, and records are taken up again
//! - `places`: places, comparisons and sequences as other programs read them; full disks, closed folders, hostile names
//! - `film`: films go where they should, and other programs play them
//! - `showing`: the prints full screen, gone through, flicked, glided and raised
//! - `new_sites`: a few answers make a site that is what was asked for, and measures at once
//! - `light`: sun, shadow and clocks as published, by ruler and by stepped rays; the order of a day; calendars read back
//! - `oracle_light`: where pvlib puts the sun, and when it lets it rise and set, live
//! - `maps`: the search's maps and lists as other programs read them
//! - `heights`: heights found as textbooks find them, as uncertain as readings taken again and again
//! - `hostile`: files that are wrong in every way are refused with their place, and none brings the program down
//! - `fuzz`: good files changed at random, a few seconds each
//! - `underlay`: a picture from above is laid, scaled, moved and faded as a hand means it
//! - `verdicts`: upright is what is seen, whole and upright in all parts; what is wrong is told first
//! - `ways`: every way to straighten it is as it is told
//! - `window`: the real window walked by keys and mouse, scripted and on a virtual display
//! - `tidy`: the rules of the house
//!
//! `support` holds what they share, `station` a site that several picture. `tests/run` installs what they need; run all
//! of it by `tests/run`, a part by `tests/run reference`.

mod support;

mod agreement;
mod aims;
mod arrange;
mod bring;
#[cfg(feature = "viewer")]
mod building;
mod cli;
#[cfg(feature = "viewer")]
mod daylight;
#[cfg(feature = "viewer")]
mod desk;
#[cfg(feature = "viewer")]
mod desks;
mod details;
mod disturbed;
mod drawing;
mod enough;
mod film;
mod final_pictures;
#[cfg(feature = "viewer")]
mod finder;
mod fuzz;
mod heights;
mod hostile;
mod light;
mod maps;
mod new_sites;
mod oracle;
mod oracle_account;
mod oracle_light;
mod oracle_place;
#[cfg(feature = "viewer")]
mod panels;
mod pictures;
mod places;
mod properties;
mod reference;
mod scenarios;
mod scenes;
mod search;
mod search_light;
#[cfg(feature = "paper")]
mod sheets;
#[cfg(feature = "viewer")]
mod showing;
mod spread;
mod stances;
mod station;
mod still;
#[cfg(feature = "viewer")]
mod ten_minutes;
mod tidy;
#[cfg(feature = "viewer")]
mod underlay;
mod verdicts;
mod ways;
#[cfg(feature = "viewer")]
mod window;
