//! The `chalkwalk` command.

mod args;
mod demo;
mod export;
mod jobs;
mod office;
mod office_args;
mod output;
mod photos;
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
        Verb::Check(job) => jobs::check(notebook, job, out),
        Verb::Record(record) => record::run(notebook, record, out),
        Verb::Import(import) => photos::import(notebook, import, out),
        Verb::Photo(photo) => photos::look(photo, out),
        Verb::Sync(sync) => sync::run(notebook, sync, out),
        Verb::Export(export) => export::export(notebook, export, out),
        Verb::Verify(verify) => export::verify(verify, out),
    }
}
