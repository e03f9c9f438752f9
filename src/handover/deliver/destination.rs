//! Where does something go, and what if something is there already?

use std::path::{Path, PathBuf};

use super::error::{DeliveryError, InTheWay};
use super::kind::{DeliveryForm, DeliveryKind, PageForm};
use crate::files::{FileError, check_folder_of, is_there};
use crate::handover::check_folder;

/// The most numbers that are tried for a name of which there is one already.
const MOST_NUMBERS: u32 = 10_000;
/// What happens where something of the same name is there already.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum IfExists {
    /// Nothing is written, and the answer is [`DeliveryError::InTheWay`].
    #[default]
    Refuse,
    /// The new one takes its place.
    Replace,
    /// Both are kept: the new one gets a number.
    KeepBoth,
}

/// Where something goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Destination {
    /// Its file, or its folder where it is one of several files. The ending says in which form it is written.
    pub path: PathBuf,
    /// What happens where something of this name is there.
    pub if_exists: IfExists,
    /// Whether the folder that it lies in is made where there is none.
    pub make_folder: bool,
}

impl Destination {
    /// A place in a folder that must be there.
    pub fn new(path: &Path, if_exists: IfExists) -> Self {
        Self { path: path.into(), if_exists, make_folder: false }
    }

    /// Looks whether a thing of this kind may be written here: to be asked before long work for it.
    ///
    /// # Errors
    /// The name ends in no form of this kind, there is no folder for it, or something is in the way.
    pub fn check(&self, kind: DeliveryKind) -> Result<DeliveryForm, DeliveryError> {
        let path = self.path.as_path();
        let form = DeliveryForm::of(kind, path)
            .ok_or_else(|| DeliveryError::Ending { path: path.into(), expected: kind.ending_words() })?;
        if cfg!(not(feature = "paper")) && form == DeliveryForm::Card(PageForm::Pdf) {
            return Err(DeliveryError::NoPaper);
        }
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        if self.make_folder && folder.is_some_and(|folder| !is_there(folder)) {
            return Ok(form);
        }
        match self.if_exists {
            IfExists::KeepBoth => {}
            IfExists::Refuse | IfExists::Replace => self.check_path(form)?,
        }
        if form.folder_files().is_none() {
            check_folder_of(path)?;
        }
        Ok(form)
    }

    fn check_path(&self, form: DeliveryForm) -> Result<(), DeliveryError> {
        let replace = self.if_exists == IfExists::Replace;
        if let Some(ours) = form.folder_files() {
            return Ok(check_folder(&self.path, ours, replace)?);
        }
        let there = form.files(&self.path).into_iter().find(|file| is_there(file));
        match there.filter(|_| !replace) {
            Some(path) => Err(DeliveryError::InTheWay(InTheWay { path })),
            None => Ok(()),
        }
    }

    /// The names that are tried, in order.
    fn candidates(&self) -> impl Iterator<Item = PathBuf> + use<'_> {
        let path = &self.path;
        let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let ending = path.extension().map(|ending| format!(".{}", ending.to_string_lossy())).unwrap_or_default();
        let numbers = if self.if_exists == IfExists::KeepBoth { 2..MOST_NUMBERS } else { 0..0 };
        let numbered = numbers.map(move |number| path.with_file_name(format!("{stem}-{number}{ending}")));
        std::iter::once(path.clone()).chain(numbered)
    }

    /// Writes under the first of the names that is free; where it was written, and what writing gave.
    pub(super) fn write<T>(
        &self,
        form: DeliveryForm,
        mut write: impl FnMut(&Path, bool) -> Result<T, DeliveryError>,
    ) -> Result<(PathBuf, T), DeliveryError> {
        if let (true, Some(folder)) = (self.make_folder, self.path.parent()) {
            std::fs::create_dir_all(folder).map_err(|source| FileError::Write { path: folder.into(), source })?;
        }
        for path in self.candidates() {
            if self.if_exists == IfExists::KeepBoth && form.files(&path).iter().any(|file| is_there(file)) {
                continue;
            }
            match write(&path, self.if_exists == IfExists::Replace) {
                // It has come to be there since it was looked for.
                Err(DeliveryError::InTheWay(_)) if self.if_exists == IfExists::KeepBoth => {}
                written => return Ok((path, written?)),
            }
        }
        Err(DeliveryError::NoFreeName { path: self.path.clone() })
    }
}

#[cfg(test)]
mod tests {
    use super::super::kind::record_beside;
    use super::*;
    use crate::files::write_together;
    use crate::handover::exif::PictureForm;
    use crate::handover::places::PlacesForm;

    #[test]
    fn a_name_that_is_taken_is_refused_replaced_or_numbered() {
        let home = tempfile::tempdir().expect("a folder");
        let path = home.path().join("yard.gpx");
        let form = DeliveryForm::Places(PlacesForm::Gpx);
        let put = |if_exists, content: &[u8]| {
            let destination = Destination::new(&path, if_exists);
            destination.check(DeliveryKind::Places)?;
            let write = |path: &Path, replace| Ok(write_together(&[(path, content)], replace)?);
            Ok::<PathBuf, DeliveryError>(destination.write(form, write)?.0)
        };
        assert_eq!(put(IfExists::Refuse, b"1").expect("free"), path);
        let refused = put(IfExists::Refuse, b"2");
        assert!(matches!(&refused, Err(DeliveryError::InTheWay(there)) if there.path == path), "{refused:?}");
        assert_eq!(put(IfExists::KeepBoth, b"3").expect("numbered"), home.path().join("yard-2.gpx"));
        assert_eq!(put(IfExists::KeepBoth, b"4").expect("numbered"), home.path().join("yard-3.gpx"));
        assert_eq!(put(IfExists::Replace, b"5").expect("replaced"), path);
        assert_eq!(std::fs::read(&path).expect("read"), b"5");
        assert_eq!(std::fs::read_dir(home.path()).expect("listed").count(), 3);
    }

    #[test]
    fn a_picture_is_in_the_way_of_neither_record_nor_picture() {
        let home = tempfile::tempdir().expect("a folder");
        let picture = home.path().join("still.png");
        std::fs::write(record_beside(&picture), "mine").expect("written");
        let check = |path: &Path| Destination::new(path, IfExists::Refuse).check(DeliveryKind::Still);
        assert!(
            matches!(check(&picture), Err(DeliveryError::InTheWay(there)) if there.path == record_beside(&picture))
        );
        assert!(matches!(check(&home.path().join("other.jpeg")), Ok(DeliveryForm::Still(PictureForm::Jpeg))));
        assert!(matches!(check(&home.path().join("still.gif")), Err(DeliveryError::Ending { .. })));
        assert!(matches!(check(&home.path().join("no folder/still.png")), Err(DeliveryError::File(_))));
    }
}
