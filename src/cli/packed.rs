//! `pack` and `unpack`: a project and its photos in one zip, and out of it again.

use std::io::Write;

use wintercrib::store::packed;

use super::{Pack, Stop, TakeOut, project};

pub(super) fn pack(pack: &Pack, out: &mut dyn Write) -> Result<(), Stop> {
    let opened = project::read(&pack.file)?;
    let file = opened.file.path();
    let packed = packed::pack(opened.document.project(), file, &pack.zip, |_| true)
        .map_err(|fault| Stop::cannot(fault.to_string()))?;
    for fault in &packed.left_out {
        project::tell(&format!("a photo is not in the zip. {fault}"));
    }
    let photos = project::counted(packed.photos, "photo");
    writeln!(
        out,
        "Packed the project and {photos} into {}.",
        pack.zip.display()
    )?;
    Ok(())
}

pub(super) fn take_out(take_out: &TakeOut, out: &mut dyn Write) -> Result<(), Stop> {
    let unpacked = packed::unpack(&take_out.zip, &take_out.folder, |_| true)
        .map_err(|fault| Stop::cannot(fault.to_string()))?;
    let photos = project::counted(unpacked.photos, "photo");
    writeln!(
        out,
        "Unpacked {photos} and the project. Open it with 'wintercrib {}'.",
        unpacked.project.display()
    )?;
    Ok(())
}
