//! Makes one packet: the bag, its check, the zip.

use std::path::Path;
use std::sync::Arc;

use chalkwalk_core::packet::{Choices, PacketError, PacketInput, Sealer, verify, write, zip_bag};
use chalkwalk_core::photo::walk_order;
use chalkwalk_core::review::scope::ScopeInputs;
use tokio::runtime::Handle;

use super::super::Shared;
use super::super::pages::estimate::inputs_of;
use super::{Making, Stage, file, within};
use crate::hub::InCustody;
use crate::press::Press;

/// Waits for its turn, makes the packet and says what became of it.
pub(super) async fn make(shared: Shared, making: Arc<Making>) {
    let Ok(_turn) = shared.house.packets.clone().acquire_owned().await else {
        return;
    };
    if making.finished() {
        return;
    }
    making.set(Stage::Working);
    let inputs = match inputs_of(&shared.papers, making.job).await {
        Ok((inputs, _)) => inputs,
        Err(error) => return making.set(unwell(&error)),
    };
    let stage = match shared.hub.in_custody(making.job).await {
        Ok(Some(held)) => {
            let (shared, making) = (shared.clone(), Arc::clone(&making));
            let runtime = Handle::current();
            let work = move || work(&shared, &making, (&held, &inputs), runtime);
            match tokio::task::spawn_blocking(work).await {
                Ok(stage) => stage,
                Err(error) => unwell(&error),
            }
        }
        Ok(None) => Stage::Failed("The office no longer holds the job.".to_owned()),
        Err(refusal) => unwell(&refusal),
    };
    making.set(stage);
}

fn work(
    shared: &Shared,
    making: &Making,
    matter: (&InCustody, &ScopeInputs),
    runtime: Handle,
) -> Stage {
    let within = within(shared, making.id);
    let made = std::fs::create_dir_all(&within)
        .map_err(|cause| PacketError::File {
            path: within.clone(),
            cause,
        })
        .and_then(|()| bag_and_zip(shared, making, matter, runtime, &within));
    let bag = within.join(making.kind.folder());
    if bag.exists() && std::fs::remove_dir_all(&bag).is_err() {
        tracing::warn!("a folder of a packet stays until the next start");
    }
    match made {
        Ok(Ok(size)) => Stage::Ready(size),
        Ok(Err(words)) => Stage::Failed(words),
        Err(PacketError::Stopped) => Stage::Stopped,
        Err(error) => unwell(&error),
    }
}

/// The size of the zip, or why the bag is not good.
fn bag_and_zip(
    shared: &Shared,
    making: &Making,
    (held, inputs): (&InCustody, &ScopeInputs),
    runtime: Handle,
    within: &Path,
) -> Result<Result<u64, String>, PacketError> {
    let office = shared.hub.office();
    let job = &held.job;
    let order = walk_order(job);
    let photos = shared.hub.photo_source(runtime);
    let choices = Choices {
        scope: inputs.clone(),
        without_places: making.without_places,
        paper: making.paper,
        ..Choices::default()
    };
    let key = office.seal_key();
    let input = PacketInput {
        job,
        document: &held.document,
        custody: &held.custody,
        photos: &photos,
        order: &order,
        company: &office.company().name,
        office_key: Some(office.public_key()),
        sealer: Sealer::Office(key),
        choices: &choices,
        renderer: &Press,
        created_at: shared.hub.now(),
    };
    let written = write(making.kind, &input, within, &mut |done, all| {
        making.went(done, all)
    })?;
    let report = verify(&written.folder, Some(&office.public_key()));
    if let Some(failure) = report.failures.first() {
        tracing::error!(
            file = failure.file,
            reason = failure.reason,
            "a packet is not good"
        );
        return Ok(Err(format!("{}: {}", failure.file, failure.reason)));
    }
    let (done, all) = making.progress();
    let zip = file(shared, making);
    let name = making.kind.folder();
    zip_bag(&written.folder, name, &zip, &mut |_, _| {
        making.went(done, all)
    })
    .map(Ok)
}

fn unwell(error: &dyn std::fmt::Display) -> Stage {
    tracing::error!(%error, "a packet could not be made");
    Stage::Failed("It could not be made; nothing recorded is lost. Ask for it again.".to_owned())
}
