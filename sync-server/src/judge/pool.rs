//! The server's side: a few workers, each with the documents of the jobs it judged last.

use std::collections::VecDeque;
use std::io::{self, BufReader, Read};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

use chalkwalk_core::document::Document;

use super::wire::{Answer, Ask, packed, receive, send};
use super::{Case, Finding, Place, WorkerConfig};
use crate::limits;

/// The workers.
#[derive(Debug)]
pub(super) struct Pool {
    config: WorkerConfig,
    bench: Mutex<Bench>,
    back: Condvar,
}

/// Those that wait for work, the longest unused first, and the count of those at work.
#[derive(Debug, Default)]
struct Bench {
    idle: VecDeque<Worker>,
    out: usize,
}

impl Pool {
    pub(super) fn start(config: WorkerConfig) -> Result<Self, String> {
        let first = Worker::start(&config).map_err(|error| error.to_string())?;
        Ok(Self {
            config,
            bench: Mutex::new(Bench {
                idle: VecDeque::from([first]),
                out: 0,
            }),
            back: Condvar::new(),
        })
    }

    /// Judges a batch. A worker that falls is replaced; where it had worked for others before, the
    /// batch is judged once more by a fresh one, as it may not be the batch that brought it down.
    pub(super) fn judge(&self, place: Place, document: &Document, case: &Case<'_>) -> Finding {
        let mut taken = self.take(place);
        loop {
            let mut worker = match taken {
                Ok(worker) => worker,
                Err(error) => {
                    self.lost();
                    return Finding::Unable(error.to_string());
                }
            };
            let fresh = worker.asked == 0;
            match worker.judge(place, document, case, self.config.time) {
                Ok(finding) => {
                    self.give_back(worker);
                    return finding;
                }
                Err(fall) => {
                    let reason = fall.words(worker, &self.config);
                    tracing::warn!(job = %place.1, reason, "a worker fell and is replaced");
                    if fresh || matches!(fall, Fall::Late) {
                        self.lost();
                        return match fall {
                            Fall::AtKeeping => Finding::Unable(reason),
                            Fall::Late | Fall::Dead => Finding::Fell(reason),
                        };
                    }
                    taken = Worker::start(&self.config);
                }
            }
        }
    }

    /// The worker that has the job; else one with room, a new one, or the longest unused.
    fn take(&self, place: Place) -> io::Result<Worker> {
        let mut bench = self.bench.lock().unwrap_or_else(PoisonError::into_inner);
        loop {
            let idle = &bench.idle;
            let has = idle.iter().position(|worker| worker.holds(place));
            let roomy = || idle.iter().position(Worker::has_room);
            let full = idle.len() + bench.out >= limits::WORKERS;
            let longest = (full && !idle.is_empty()).then_some(0);
            if let Some(at) = has.or_else(roomy).or(longest) {
                if let Some(worker) = bench.idle.remove(at) {
                    bench.out += 1;
                    return Ok(worker);
                }
            } else if !full {
                bench.out += 1;
                drop(bench);
                return Worker::start(&self.config);
            }
            bench = self
                .back
                .wait(bench)
                .unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn give_back(&self, worker: Worker) {
        let mut bench = self.bench.lock().unwrap_or_else(PoisonError::into_inner);
        bench.out -= 1;
        bench.idle.push_back(worker);
        self.back.notify_one();
    }

    fn lost(&self) {
        let mut bench = self.bench.lock().unwrap_or_else(PoisonError::into_inner);
        bench.out -= 1;
        self.back.notify_one();
    }
}

/// One worker process. A thread of its own speaks with it, so that whoever asks can stop waiting.
#[derive(Debug)]
struct Worker {
    child: Child,
    asks: Sender<Vec<u8>>,
    answers: Receiver<io::Result<Answer>>,
    /// Jobs whose documents it keeps, the longest unused first.
    recent: VecDeque<Place>,
    asked: u64,
}

/// How a worker fell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fall {
    /// It died over the job's own document.
    AtKeeping,
    /// It died over the batch.
    Dead,
    /// It took too long.
    Late,
}

impl Worker {
    fn start(config: &WorkerConfig) -> io::Result<Self> {
        let mut command = Command::new(&config.program);
        command
            .arg("judge-batches")
            .arg("--memory")
            .arg(config.memory.to_string())
            // Nothing of the server's secrets goes along.
            .env_clear()
            // The limit is one of address space: what the program frees goes back at once, and
            // there is one arena, however many processors the machine has.
            .env("_RJEM_MALLOC_CONF", "narenas:1,retain:false")
            .current_dir("/")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        // Ctrl-C at the server is the server's to hear.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut child = command.spawn()?;
        let (Some(mut to), Some(from)) = (child.stdin.take(), child.stdout.take()) else {
            return Err(io::Error::other("a worker without pipes"));
        };
        let (asks, asked) = channel::<Vec<u8>>();
        let (answer, answers) = channel();
        std::thread::Builder::new()
            .name("judge".to_owned())
            .spawn(move || {
                let mut from = BufReader::new(from);
                let next = |from: &mut BufReader<_>| {
                    receive(from, limits::WORKER_ANSWER_BYTES)
                        .and_then(|answer| answer.ok_or(io::ErrorKind::UnexpectedEof.into()))
                };
                if answer.send(next(&mut from)).is_err() {
                    return;
                }
                while let Ok(ask) = asked.recv() {
                    let said = send(&mut to, &ask).and_then(|()| next(&mut from));
                    drop(ask);
                    if answer.send(said).is_err() {
                        return;
                    }
                }
            })?;
        let mut worker = Self {
            child,
            asks,
            answers,
            recent: VecDeque::new(),
            asked: 0,
        };
        let patience = Duration::from_millis(limits::WORKER_START_MS);
        match worker.answers.recv_timeout(patience) {
            Ok(Ok(Answer::Ready)) => Ok(worker),
            _ => Err(io::Error::other(format!(
                "a worker does not start: {}",
                worker.last_words()
            ))),
        }
    }

    fn holds(&self, place: Place) -> bool {
        self.recent.contains(&place)
    }

    fn has_room(&self) -> bool {
        self.recent.len() < limits::WORKER_DOCUMENTS
    }

    fn judge(
        &mut self,
        place: Place,
        document: &Document,
        case: &Case<'_>,
        time: Duration,
    ) -> Result<Finding, Fall> {
        let judge = Ask::judge(place, document, case);
        let mut answer = Answer::Behind;
        if self.holds(place) {
            answer = self.ask(&judge, time)?;
        }
        self.used(place);
        if answer == Answer::Behind {
            // The document is not the batch's doing: it has the time that it needs.
            let time_to_load = time.max(Duration::from_millis(limits::WORKER_START_MS));
            match self.ask(&Ask::keep(place, document), time_to_load) {
                Ok(Answer::Kept) => {}
                Ok(_) | Err(_) => return Err(Fall::AtKeeping),
            }
            answer = self.ask(&judge, time)?;
        }
        match answer {
            Answer::Good => Ok(Finding::Good),
            Answer::Refused(said) => Ok(Finding::Refused(said.into())),
            Answer::Ready | Answer::Kept | Answer::Behind => Err(Fall::Dead),
        }
    }

    fn ask(&mut self, ask: &Ask, time: Duration) -> Result<Answer, Fall> {
        let frame = packed(ask, limits::WORKER_FRAME_BYTES).map_err(|_| Fall::AtKeeping)?;
        self.asked += 1;
        let asked = Instant::now();
        self.asks.send(frame).map_err(|_| Fall::Dead)?;
        match self.answers.recv_timeout(time) {
            // An answer may lie there before anybody waits for it.
            Ok(Ok(_)) if asked.elapsed() > time => Err(Fall::Late),
            Ok(Ok(answer)) => Ok(answer),
            Ok(Err(_)) | Err(RecvTimeoutError::Disconnected) => Err(Fall::Dead),
            Err(RecvTimeoutError::Timeout) => Err(Fall::Late),
        }
    }

    fn used(&mut self, place: Place) {
        self.recent.retain(|held| *held != place);
        self.recent.push_back(place);
        if self.recent.len() > limits::WORKER_DOCUMENTS {
            self.recent.pop_front();
        }
    }

    /// Ends the process and says how it ended.
    fn last_words(&mut self) -> String {
        // It may have ended by itself.
        let _ = self.child.kill();
        let status = self.child.wait();
        let mut words = Vec::new();
        if let Some(told) = self.child.stderr.take() {
            // What cannot be read is not needed to go on.
            let _ = told.take(4096).read_to_end(&mut words);
        }
        let starved = String::from_utf8_lossy(&words).contains("memory allocation");
        match status {
            _ if starved => "it ran out of memory".to_owned(),
            Ok(status) => ended(status),
            Err(error) => error.to_string(),
        }
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        // Nothing can be done where it does not end.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Fall {
    /// What happened, in words for the quarantine and the log.
    fn words(self, mut worker: Worker, config: &WorkerConfig) -> String {
        let end = worker.last_words();
        let memory = config.memory >> 20;
        match self {
            Fall::AtKeeping => format!(
                "the job itself cannot be held by a worker of {memory} MiB ({end}): give the \
                 server's workers more memory"
            ),
            Fall::Dead => format!("judging it took a worker of {memory} MiB down: {end}"),
            Fall::Late => format!("judging it took longer than {} ms", config.time.as_millis()),
        }
    }
}

fn ended(status: ExitStatus) -> String {
    #[cfg(unix)]
    if let Some(signal) = std::os::unix::process::ExitStatusExt::signal(&status) {
        return format!("it ended by signal {signal}");
    }
    status.to_string()
}
