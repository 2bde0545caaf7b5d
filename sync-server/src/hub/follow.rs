//! What other nodes on the same store took in, told to the live sessions of this one.

use std::time::Duration;

use super::{ELSEWHERE, Hub, News};
use crate::store::{Feed, Heard, StoreError, limits};

/// How long a store that does not answer is left alone.
const AFTER_FAILURE: Duration = Duration::from_secs(1);

impl Hub {
    /// What other nodes do from now on; `None` where the store is of this node alone. Sessions
    /// that begin after this miss nothing.
    ///
    /// # Errors
    /// Where the store does not answer.
    pub async fn feed(&self) -> Result<Option<Box<dyn Feed>>, StoreError> {
        self.records().feed().await
    }

    /// Tells what a feed gives to the live sessions, until it is dropped. A store that does not
    /// answer is asked again: nothing is left out meanwhile.
    pub async fn follow(self, mut feed: Box<dyn Feed>) {
        let mut well = true;
        loop {
            match feed.next(limits::LOOK_EVERY).await {
                Ok(heard) => {
                    if !well {
                        tracing::info!("the shared store answers again");
                    }
                    well = true;
                    self.pass_on(heard);
                }
                Err(error) => {
                    if well {
                        tracing::error!(error = error.chain(), "the shared store does not answer");
                    }
                    well = false;
                    tokio::time::sleep(AFTER_FAILURE).await;
                }
            }
        }
    }

    fn pass_on(&self, heard: Heard) {
        for device in heard.shut_out {
            self.tell(News::Revoked(device));
        }
        if heard.everything {
            self.tell(News::Everything);
            return;
        }
        for job in heard.jobs {
            let session = ELSEWHERE;
            let files = true;
            self.tell(News::Job {
                job,
                session,
                files,
            });
        }
    }
}
