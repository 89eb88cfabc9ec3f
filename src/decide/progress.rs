//! Progress of work that takes long.

/// Receives the progress of work, stage by stage.
pub(crate) trait ProgressSink: Send {
    /// A stage of at most `most` units begins.
    fn begin(&mut self, most: u64);
    /// `done` of its units are done.
    fn at(&mut self, done: u64);
    /// The stage ends.
    fn end(&mut self);
}

/// Ignores all progress.
impl ProgressSink for () {
    fn begin(&mut self, _: u64) {}
    fn at(&mut self, _: u64) {}
    fn end(&mut self) {}
}

/// Runs `work` as one stage of `most` units; `work` gets a function that takes the number of units done so far.
pub(crate) fn with_progress<T>(
    progress: &mut dyn ProgressSink,
    most: u64,
    work: impl FnOnce(&mut (dyn FnMut(u64) + Send)) -> T,
) -> T {
    progress.begin(most);
    let done = work(&mut |units| progress.at(units));
    progress.end();
    done
}
