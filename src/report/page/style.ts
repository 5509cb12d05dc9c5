/**
 * One column, large first sentence, black on white. Nothing is told by colour alone. On a telephone the narrow
 * drawings stand in for the wide ones and the table of lines becomes blocks; on paper the wide ones are used.
 */
export const PAGE_STYLE = `
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: #111; font: 16px/1.5 system-ui, "DejaVu Sans", Arial, sans-serif; }
main { max-width: 56rem; margin: 0 auto; padding: 1rem 1rem 3rem; overflow-wrap: anywhere; }
h1 { font-size: 1.75rem; line-height: 1.3; margin: 0.5rem 0; font-weight: 600; }
h2 { font-size: 1.3rem; line-height: 1.3; margin: 2.25rem 0 0.75rem; padding-top: 0.75rem; border-top: 2px solid #111; }
h3 { font-size: 1.05rem; margin: 1.25rem 0 0.4rem; }
p, ul, ol, dl { margin: 0.5rem 0; }
li { margin: 0.3rem 0; }
.meta, figcaption, footer { color: #444; font-size: 0.9rem; }
.action { font-size: 1.25rem; font-weight: 600; }
.cautions { border: 3px solid #111; padding: 0.5rem 1rem; margin: 1rem 0; }
.cautions h3 { margin: 0; }
.steps { padding-left: 2rem; }
.steps li { padding-left: 0.25rem; margin: 0.5rem 0; }
.steps li::marker { font-weight: 700; }
.facts { margin: 0.75rem 0; }
.facts > div { display: grid; grid-template-columns: 16rem minmax(0, 1fr); gap: 0 1rem; padding: 0.35rem 0; border-bottom: 1px solid #ddd; }
dt { font-weight: 600; }
dd { margin: 0; min-width: 0; }
table { border-collapse: collapse; width: 100%; margin: 1.25rem 0; font-size: 0.95rem; }
.narrow-table { max-width: 38rem; }
caption { text-align: left; font-weight: 600; font-size: 1.05rem; padding-bottom: 0.35rem; }
th, td { text-align: left; vertical-align: top; padding: 0.4rem 0.75rem 0.4rem 0; border-bottom: 1px solid #ccc; }
thead th { border-bottom: 2px solid #111; }
th, td { overflow-wrap: break-word; }
tbody th { font-weight: 400; }
.narrow-table tbody th { overflow-wrap: anywhere; }
.stacked tbody th { font-weight: 600; }
.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.conditions { list-style: none; padding: 0; }
.conditions li { display: grid; grid-template-columns: 6rem minmax(0, 1fr); border-bottom: 1px solid #ddd; padding: 0.3rem 0; }
.met { font-weight: 600; }
figure { margin: 1.25rem 0 2rem; break-inside: avoid; }
figure h3 { margin-bottom: 0.25rem; }
figure > svg { display: block; width: 100%; height: auto; }
.legend { list-style: none; display: flex; flex-wrap: wrap; gap: 0.1rem 1.1rem; padding: 0; margin: 0.25rem 0; font-size: 0.9rem; }
.legend li { display: flex; align-items: center; gap: 0.4rem; margin: 0; }
.glyph { flex: none; }
.legend li { min-width: 0; }
svg.narrow { display: none !important; }
pre { margin: 0.5rem 0; padding: 0.6rem 0.75rem; border: 1px solid #999; white-space: pre-wrap; overflow-wrap: anywhere; }
code { font: 0.9em ui-monospace, "DejaVu Sans Mono", monospace; }
footer { margin-top: 2.5rem; border-top: 1px solid #999; }
@media screen and (max-width: 44rem) {
  h1 { font-size: 1.4rem; }
  .facts > div { grid-template-columns: minmax(0, 1fr); }
  svg.wide { display: none !important; }
  svg.narrow { display: block !important; }
  .stacked thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  .stacked, .stacked tbody, .stacked tr, .stacked th, .stacked td, .stacked caption { display: block; }
  .stacked tr { border-bottom: 2px solid #111; padding: 0.4rem 0; }
  .stacked th, .stacked td { border: 0; padding: 0.15rem 0; }
  .stacked td { display: grid; grid-template-columns: 9.5rem minmax(0, 1fr); gap: 0 0.75rem; }
  .stacked td::before { content: attr(data-label); color: #444; }
}
@media print {
  body { font-size: 10.5pt; color: #000; }
  main { max-width: none; padding: 0; }
  h1 { font-size: 15pt; }
  h2 { margin-top: 1.2rem; }
  h2, h3, caption { break-after: avoid; }
  .meta, figcaption, footer { color: #000; }
  .cautions, tr, .steps li, .narrow-table { break-inside: avoid; }
}
`
