//! Pages in a real browser, Debian's Chromium without a screen: what it shows, prints, says on its console and asks for.

use super::{commands, page_of};
use crate::program::Folder;
use crate::tools::tool;
use std::io::{BufRead, BufReader};
use std::net::{TcpListener, TcpStream};
use std::process::Command;
use std::sync::{Arc, Mutex};

/// Sizes of paper within the margins of the page's style (15 mm), CSS pixels of 1/96 inch: the narrower width of A4 and Letter, the lower
/// height. A4 is 210 by 297 mm (ISO 216), Letter 8.5 by 11 inches (ANSI/ASME Y14.1).
const PAPER: [u32; 2] = [680, 942];

/// What the browser asks for by itself, whatever is shown.
const BROWSERS_OWN: [&str; 2] = ["google.com", "googleapis.com"];

/// The browser; `None` where there is none.
fn chromium() -> Option<&'static str> {
    tool(&["chromium", "chromium-browser"], "chromium")
}

/// A place that all requests to anywhere are sent to, and that notes their hosts and paths.
struct Watcher {
    port: u16,
    heard: Arc<Mutex<Vec<String>>>,
}

impl Watcher {
    fn new() -> Watcher {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let port = listener.local_addr().expect("its number").port();
        let heard = Arc::new(Mutex::new(Vec::new()));
        let noted = Arc::clone(&heard);
        let first_line = |stream: TcpStream| {
            let mut line = String::new();
            BufReader::new(stream).read_line(&mut line).ok().map(|_| line)
        };
        std::thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                noted.lock().expect("the list").extend(first_line(stream));
            }
        });
        Watcher { port, heard }
    }

    /// Requests that are not the browser's own.
    fn requests(&self) -> Vec<String> {
        let heard = self.heard.lock().expect("the list");
        let host = |line: &str| {
            let to = line.split(' ').nth(1).unwrap_or_default().trim_start_matches("http://").to_owned();
            to.split(['/', ':', '?']).next().unwrap_or_default().to_owned()
        };
        heard
            .iter()
            .filter(|line| !BROWSERS_OWN.iter().any(|own| host(line).ends_with(own)))
            .cloned()
            .collect()
    }
}

/// What a browser made of a page.
struct Seen {
    dom: String,
    console: Vec<String>,
    requests: Vec<String>,
}

/// Opens a file of a folder; `more` are further words for the browser.
fn open(browser: &str, folder: &Folder, name: &str, more: &[&str]) -> Seen {
    let watcher = Watcher::new();
    let profile = tempfile::tempdir().expect("a folder");
    let mut command = Command::new(browser);
    command
        .args([
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--no-first-run",
            "--enable-logging=stderr",
        ])
        .args([
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--disable-extensions",
        ])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .arg(format!("--proxy-server=http://127.0.0.1:{}", watcher.port))
        .args(["--proxy-bypass-list=<-loopback>", "--dump-dom"])
        .args(more)
        .arg(format!("file://{}", folder.path().join(name).display()));
    let output = command.output().expect("the browser starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    let console = said.lines().filter(|line| line.contains("CONSOLE")).map(str::to_owned).collect();
    let dom = String::from_utf8_lossy(&output.stdout).into_owned();
    Seen { dom, console, requests: watcher.requests() }
}

/// A page with a script of the test's in it, which a page itself would not let run. What the script makes is written at the end.
fn measured(html: &str, script: &str) -> String {
    let (before, rest) =
        html.split_once("<meta http-equiv=\"Content-Security-Policy\"").expect("the page's own policy");
    let (_, after) = rest.split_once("/>").expect("its end");
    let script = format!(
        "<pre id=\"measured\"></pre><script>document.getElementById('measured').textContent = ({script})();</script></body>"
    );
    format!("{before}{after}").replace("</body>", &script)
}

/// What a script found.
fn found(seen: &Seen) -> Vec<String> {
    let found = seen.dom.split("<pre id=\"measured\">").nth(1).expect("what was measured");
    found.split("</pre>").next().unwrap_or_default().lines().map(str::to_owned).collect()
}

#[test]
fn what_a_page_must_not_do_would_be_seen() {
    let Some(browser) = chromium() else { return };
    let folder = Folder::with("");
    folder.put("bad.html", "<!DOCTYPE html><title>t</title><img src=\"http://elsewhere.invalid/a.png\"><script>console.error('x')</script>");
    let seen = open(browser, &folder, "bad.html", &[]);
    assert!(seen.requests.iter().any(|line| line.contains("elsewhere.invalid/a.png")), "{:?}", seen.requests);
    assert_eq!(seen.console.len(), 1, "{:?}", seen.console);
    // The policy that pages carry keeps even that from being asked for and run.
    let html = page_of(&super::hostile(), &["run", "study.toml"]);
    folder.put(
        "held.html",
        html.replace(
            "</main>",
            "</main><img src=\"http://elsewhere.invalid/b.png\"/><script>document.title = 'ran'</script>",
        ),
    );
    let seen = open(browser, &folder, "held.html", &[]);
    assert!(seen.requests.is_empty() && !seen.dom.contains("<title>ran"), "{:?}", seen.requests);
    assert_eq!(seen.console.len(), 2, "{:?}", seen.console);
}

/// For every figure its height, the width by which it or its drawing stands out, and by how much any text of its drawing does.
const FIGURES: &str = "() => [...document.querySelectorAll('figure')].map(figure => {
    const svg = figure.querySelector('svg'), box = figure.getBoundingClientRect();
    const out = Math.max(0, box.right - document.documentElement.clientWidth, svg.getBoundingClientRect().right - box.right);
    const texts = [...svg.querySelectorAll('text')].map(text => text.getBBox());
    const view = svg.viewBox.baseVal;
    const cut = Math.max(0, ...texts.map(of => Math.max(-of.x, of.x + of.width - view.width, of.y + of.height - view.height, -of.y)));
    return [box.height, out, cut].map(of => of.toFixed(1)).join(' ');
}).join('\\n')";

#[test]
fn every_page_is_quiet_whole_and_printed_without_a_cut() {
    let Some(browser) = chromium() else { return };
    for (name, study, words) in commands() {
        let html = page_of(&study, &words);
        let folder = Folder::with(&study);
        folder.put("page.html", &html);
        let pdf = folder.path().join("page.pdf");
        let seen = open(browser, &folder, "page.html", &[&format!("--print-to-pdf={}", pdf.display())]);
        assert!(seen.console.is_empty(), "{name}: {:?}", seen.console);
        assert!(seen.requests.is_empty(), "{name}: {:?}", seen.requests);
        // Every chart that was written is there as the browser reads it.
        let titles = |html: &str| -> Vec<String> {
            let all = html.split("<figcaption>").skip(1);
            all.map(|of| {
                of.split("</figcaption>")
                    .next()
                    .unwrap_or_default()
                    .replace("&quot;", "\"")
                    .replace("&#39;", "'")
            })
            .collect()
        };
        assert_eq!(titles(&seen.dom), titles(&html), "{name}");
        assert_eq!(seen.dom.matches("<svg").count(), html.matches("<svg").count(), "{name}");
        let printed = std::fs::read(&pdf).expect("the print");
        let pages = String::from_utf8_lossy(&printed).matches("/Type /Page\n").count();
        assert!(printed.starts_with(b"%PDF") && pages > 0, "{name}: {pages} pages");

        // On paper each figure fits on a sheet, and no text is cut by the edge of its drawing.
        folder.put("paper.html", measured(&html, FIGURES).replace("@media print", "@media all"));
        let size = format!("--window-size={},{}", PAPER[0], PAPER[1]);
        let figures = found(&open(browser, &folder, "paper.html", &[&size, "--hide-scrollbars"]));
        assert_eq!(figures.len(), html.matches("<figure").count(), "{name}");
        for (figure, title) in figures.iter().zip(titles(&html)) {
            let of: Vec<f64> = figure.split(' ').map(|of| of.parse().expect("a number")).collect();
            assert!(of[0] > 80.0 && of[0] < f64::from(PAPER[1]), "{name}, {title}: {figure}");
            assert!(of[1] < 1.0, "{name}, {title}: stands out by {}", of[1]);
            assert!(of[2] < 3.0, "{name}, {title}: text is cut by {}", of[2]);
        }
    }
}

/// Colours of the ground and of every text, each once.
const COLOURS: &str = "() => {
    const colour = (of, name) => getComputedStyle(of)[name];
    const ground = colour(document.documentElement, 'backgroundColor');
    const texts = [...document.querySelectorAll('h1,h2,p,a,summary,td,th,caption,figcaption,dt,dd,li,pre')].map(of => colour(of, 'color'));
    const drawn = [...document.querySelectorAll('svg text')].map(of => colour(of, 'fill'));
    return [ground, ...new Set([...texts, ...drawn])].join('\\n');
}";

/// Relative luminance of a colour as a browser writes it, \"rgb(1, 2, 3)\": W3C, Web Content Accessibility Guidelines 2.2 (from memory).
fn luminance(colour: &str) -> f64 {
    let parts = colour.trim_start_matches("rgb(").trim_end_matches(')').split(", ");
    let linear = parts.map(|part| {
        let value = part.parse::<f64>().expect("a part of a colour") / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    });
    linear.zip([0.2126, 0.7152, 0.0722]).map(|(part, weight)| part * weight).sum()
}

#[test]
fn a_page_is_legible_on_light_and_on_dark() {
    let Some(browser) = chromium() else { return };
    let (_, study, words) = commands().remove(0);
    let folder = Folder::with(&study);
    folder.put("page.html", measured(&page_of(&study, &words), COLOURS));
    for (scheme, is_dark) in [("0", true), ("1", false)] {
        let setting = format!("--blink-settings=preferredColorScheme={scheme}");
        let colours = found(&open(browser, &folder, "page.html", &[&setting]));
        let (ground, texts) = colours.split_first().expect("colours");
        let ground = luminance(ground);
        assert_eq!(ground < 0.2, is_dark, "{colours:?}");
        assert!(texts.len() >= 3, "{colours:?}");
        for text in texts {
            let of = luminance(text);
            let contrast = (of.max(ground) + 0.05) / (of.min(ground) + 0.05);
            assert!(contrast >= 4.5, "{text}: {contrast}");
        }
    }
}
