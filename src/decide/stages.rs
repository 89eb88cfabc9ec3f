//! How far work is, told to whoever waits for it.

/// Who is told how far each stage of some work is.
pub trait Stages: Send {
    /// A stage of so many units begins.
    fn begin(&mut self, most: u64);
    /// So many of them are done.
    fn at(&mut self, done: u64);
    /// The stage is over.
    fn end(&mut self);
}

/// Nobody.
impl Stages for () {
    fn begin(&mut self, _: u64) {}
    fn at(&mut self, _: u64) {}
    fn end(&mut self) {}
}

/// Does the work of one stage, which is handed what to tell the units to that are done.
pub fn stage<T>(
    stages: &mut dyn Stages,
    most: u64,
    work: impl FnOnce(&mut (dyn FnMut(u64) + Send)) -> T,
) -> T {
    stages.begin(most);
    let done = work(&mut |units| stages.at(units));
    stages.end();
    done
}
