//! The style of a page: on light paper and on dark, and in print.

use crate::report::page::palette::{COLOURS, Colour, TINTS};

/// The whole style.
pub(super) fn style() -> String {
    let set = |get: fn(&Colour) -> &'static str| -> String {
        COLOURS.iter().map(|of| format!("--{}:{};", of.0, get(of))).collect()
    };
    let tints: String = (0..TINTS).map(|step| format!(".tint{step}{{fill:var(--tint{step})}}\n.on{step}{{paint-order:stroke;stroke:var(--tint{step});stroke-width:4px}}\n")).collect();
    format!(
        ":root{{color-scheme:light dark;{}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}\n{REST}{tints}{PRINT}",
        set(|of| of.1),
        set(|of| of.2)
    )
}

/// Everything but the colours themselves.
const REST: &str = "\
*{box-sizing:border-box}
html{background:var(--paper);color:var(--ink);font:1rem/1.5 system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans','Liberation Sans',sans-serif}
body{max-width:50rem;margin:0 auto;padding:1.5rem 1.25rem 4rem;overflow-wrap:break-word}
h1{font-size:1.7rem;line-height:1.2;margin:.2rem 0 .4rem;font-weight:650}
h2{font-size:1.2rem;margin:2.6rem 0 .6rem;padding-top:.5rem;border-top:1px solid var(--rule);font-weight:650}
p{margin:.5rem 0}
a{color:var(--accent)}
a:focus-visible,summary:focus-visible,[tabindex]:focus-visible{outline:2px solid var(--accent);outline-offset:2px}
.skip{position:absolute;left:-99rem}
.skip:focus{position:static}
.program{color:var(--soft);font-size:.85rem;margin:0}
.lead{color:var(--soft)}
#verdict{border-left:4px solid var(--accent);background:var(--ground);margin:1.4rem 0 1rem;padding:.7rem 1.1rem}
#verdict h2{border:0;padding:0;margin:0 0 .2rem;font-size:1rem}
#verdict p{margin:.15rem 0}
#verdict h2+p{font-size:1.1rem;font-weight:600;margin:.2rem 0 .5rem}
nav ul{list-style:none;display:flex;flex-wrap:wrap;gap:.1rem 1.1rem;margin:.6rem 0;padding:0;font-size:.9rem}
figure{margin:1.4rem 0 1.8rem}
figcaption{font-weight:600;margin-bottom:.5rem}
svg{display:block;width:100%;height:auto;font:12.5px system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans','Liberation Sans',sans-serif}
details{font-size:.9rem;margin-top:.3rem}
summary{cursor:pointer;color:var(--accent);width:max-content;max-width:100%}
.wide{overflow-x:auto}
table{border-collapse:collapse;font-size:.9rem;margin:.6rem 0 1rem;font-variant-numeric:tabular-nums}
caption{text-align:left;font-weight:600;padding:.2rem 0 .4rem}
th,td{padding:.22rem .9rem .22rem 0;text-align:left;vertical-align:top}
th{font-weight:600;border-bottom:1px solid var(--soft);vertical-align:bottom}
td{border-bottom:1px solid var(--rule)}
.num{text-align:right}
td.num{white-space:nowrap}
pre{background:var(--ground);padding:.8rem 1rem;overflow-x:auto;font:.8rem/1.45 ui-monospace,'Cascadia Mono','DejaVu Sans Mono','Liberation Mono',monospace;margin:.5rem 0}
dl{display:grid;grid-template-columns:max-content 1fr;gap:.15rem 1.2rem;font-size:.92rem}
dt{color:var(--soft)}
dd{margin:0;min-width:0}
code{font:.9em ui-monospace,'Cascadia Mono','DejaVu Sans Mono','Liberation Mono',monospace}
text{fill:var(--ink)}
.tick,.name{fill:var(--soft)}
.number{font-variant-numeric:tabular-nums}
.small{font-size:11.5px}
.halo{paint-order:stroke;stroke:var(--paper);stroke-width:5px;stroke-linejoin:round}
.rule{stroke:var(--rule)}
.axis{stroke:var(--soft)}
.base{stroke:var(--ink);stroke-width:1.5}
.limit{stroke:var(--ink);stroke-width:1.5;stroke-dasharray:7 4}
.bar{fill:var(--fill)}
.open{fill:var(--paper);stroke:var(--ink);stroke-width:1.1}
.whisker{stroke:var(--ink);stroke-width:1.4}
.curve{fill:none;stroke:var(--accent);stroke-width:2;stroke-linejoin:round}
.thin{stroke-width:1.1}
.lead.way0,.lead{stroke:var(--soft);stroke-width:1;fill:none}
.mark{fill:var(--accent);stroke:var(--paper);stroke-width:1}
.band{fill:var(--band)}
.unseen{fill:transparent;stroke:none}
.cell{fill:var(--ground);stroke:var(--paper);stroke-width:1}
.contour{fill:none;stroke:var(--ink);stroke-width:1.6}
.range{stroke:var(--fill);stroke-width:5}
.range.thin{stroke:var(--soft);stroke-width:1.2}
.curve.way1{stroke:var(--ink);stroke-dasharray:7 3}
.curve.way2{stroke:var(--soft)}
.curve.way3{stroke:var(--ink);stroke-dasharray:2 3;stroke-width:1.4}
.curve.way4{stroke:var(--accent);stroke-dasharray:10 3 2 3}
.curve.way5{stroke:var(--soft);stroke-dasharray:4 4}
.mark.way1,.mark.way3{fill:var(--ink)}
.mark.way2,.mark.way5{fill:var(--soft)}
.mark.open{fill:var(--paper);stroke:var(--ink);stroke-width:1.4}
.curve+.mark:hover,.mark:hover,.bar:hover{stroke:var(--ink);stroke-width:2}
";

/// In print: nothing cut, no navigation.
const PRINT: &str = "\
@page{margin:15mm}
@media print{
:root{--paper:#fff}
html{font-size:10pt;background:none;print-color-adjust:exact;-webkit-print-color-adjust:exact}
body{max-width:none;padding:0}
nav,.skip,summary{display:none}
h2,caption,thead{break-after:avoid}
h2{margin-top:1.6rem}
figure,#verdict,tr,.short{break-inside:avoid}
figure{margin:1rem 0 1.2rem}
svg{width:86%;max-height:22cm}
.wide{overflow:visible}
th,td{white-space:normal}
pre{white-space:pre-wrap;overflow-wrap:anywhere;background:none;padding:0;font-size:7.5pt}
}
";
