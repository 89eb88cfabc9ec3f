//! What the system says of memory.

/// Memory that this program holds now, bytes; `None` where the system does not say.
pub(crate) fn resident_bytes() -> Option<u64> {
    kib(&text_of("/proc/self/status")?, "VmRSS:")
}

/// Memory that this program may still take, bytes: of the machine, of the group that it runs in, and under the limit that it was
/// started with, the least; `None` where the system says none of them.
pub(crate) fn free_bytes() -> Option<u64> {
    let machine = text_of("/proc/meminfo").and_then(|text| kib(&text, "MemAvailable:"));
    let group = || {
        let number = |name: &str| text_of(&format!("/sys/fs/cgroup/{name}"))?.trim().parse().ok();
        let (most, held): (u64, u64) = (number("memory.max")?, number("memory.current")?);
        Some(most.saturating_sub(held))
    };
    let limit = || {
        let limits = text_of("/proc/self/limits")?;
        let line = limits.lines().find_map(|line| line.strip_prefix("Max address space"))?;
        let most: u64 = line.split_whitespace().next()?.parse().ok()?;
        let held = kib(&text_of("/proc/self/status")?, "VmSize:")?;
        Some(most.saturating_sub(held))
    };
    [machine, group(), limit()].into_iter().flatten().min()
}

/// What a file of the system says, where this build may read files.
fn text_of(path: &str) -> Option<String> {
    #[cfg(feature = "files")]
    return std::fs::read_to_string(path).ok();
    #[cfg(not(feature = "files"))]
    {
        let _ = path;
        None
    }
}

/// The value of a line such as `VmRSS:   1234 kB`, bytes.
fn kib(text: &str, name: &str) -> Option<u64> {
    let line = text.lines().find_map(|line| line.strip_prefix(name))?;
    line.split_whitespace().next()?.parse::<u64>().ok().map(|kib| kib << 10)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_is_read_from_its_line() {
        let text = "Name:\tprogram\nVmPeak:\t  9000 kB\nVmRSS:\t  1234 kB\n";
        assert_eq!((kib(text, "VmRSS:"), kib(text, "VmSwap:")), (Some(1234 << 10), None));
    }
}
