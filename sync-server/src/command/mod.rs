//! The `chalkwalk` command.

mod args;
mod carry;
mod demo;
mod estimate;
mod export;
mod jobs;
mod office;
mod office_args;
mod output;
mod photos;
mod questions;
mod reckon;
mod record;
mod server;
mod sync;

use clap::Parser;

use args::{Arguments, Verb};
use output::Failure;

/// Runs the command with the arguments of this process; the value is the exit code.
pub fn run() -> u8 {
    let arguments = Arguments::parse();
    match dispatch(&arguments) {
        Ok(()) => 0,
        Err(failure) => {
            output::print_failure(&failure, arguments.json);
            failure.code
        }
    }
}

fn dispatch(arguments: &Arguments) -> Result<(), Failure> {
    let out = output::Output {
        json: arguments.json,
    };
    let notebook = arguments.notebook.as_path();
    match &arguments.verb {
        Verb::Demo(demo) => demo::run(demo, out),
        Verb::Serve(serve) => server::serve(serve),
        Verb::Invite(invite) => server::invite(invite, out),
        Verb::Move(args) => carry::move_to(args, out),
        Verb::Backup(args) => carry::backup(args, out),
        Verb::Restore(args) => carry::restore(args, out),
        Verb::Person(person) => office::person(person, out),
        Verb::Device(device) => office::device(device, out),
        Verb::Company(company) => office::company(company, out),
        Verb::Init(init) => jobs::init(notebook, init, out),
        Verb::Enrol(enrol) => server::enrol(notebook, enrol, out),
        Verb::Begin(begin) => jobs::begin(notebook, begin, out),
        Verb::Jobs => jobs::list(notebook, out),
        Verb::Show(job) => jobs::show(notebook, job, out),
        Verb::History(job) => jobs::history(notebook, job, out),
        Verb::Settle(settle) => jobs::settle(notebook, settle, out),
        Verb::Questions(job) => questions::list(notebook, job, out),
        Verb::Answer(answer) => questions::answer(notebook, answer, out),
        Verb::Check(job) => jobs::check(notebook, job, out),
        Verb::Record(record) => record::run(notebook, record, out),
        Verb::Import(import) => photos::import(notebook, import, out),
        Verb::Photo(photo) => photos::look(photo, out),
        Verb::Sync(sync) => sync::run(notebook, sync, out),
        Verb::Scope(args) => estimate::give_scope(notebook, args, out),
        Verb::Adjust(args) => estimate::adjust(notebook, args, out),
        Verb::Compare(args) => estimate::give_comparison(notebook, args, out),
        Verb::Code(args) => estimate::code(notebook, args, out),
        Verb::Production(args) => estimate::production(notebook, args, out),
        Verb::Account(args) => estimate::give_account(notebook, args, out),
        Verb::Hits(args) => estimate::give_hits(notebook, args, out),
        Verb::Measured(args) => estimate::measured(notebook, args, out),
        Verb::Storm(args) => estimate::give_storm(notebook, args, out),
        Verb::Light(args) => estimate::light(notebook, args, out),
        Verb::Roof(args) => reckon::roof(args, out),
        Verb::Sun(args) => reckon::sun(args, out),
        Verb::Hail(args) => reckon::hail(args, out),
        Verb::Gutter(args) => reckon::gutter(args, out),
        Verb::Climb(args) => reckon::climb(args, out),
        Verb::Export(export) => export::export(notebook, export, out),
        Verb::Verify(verify) => export::verify(verify, out),
        Verb::JudgeBatches(args) => server::judge(args),
    }
}
