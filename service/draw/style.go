package draw

// pictureStyle is the look of every picture: black on white, bands for errors.
const pictureStyle = `text{font:15px system-ui,sans-serif;fill:#40474e}.title{font-weight:650;fill:#14171a;font-size:16px}.name{fill:#14171a}
.end{text-anchor:end}.mid{text-anchor:middle}.grid{stroke:#c3c9cf}.contact{stroke:#14171a;stroke-width:2;stroke-dasharray:2 3}
.line{fill:none;stroke-width:3;stroke:#a2360b}.band{fill:#a2360b;opacity:.25}.line.second{stroke:#14171a;stroke-width:2}.band.second{fill:#14171a;opacity:.2}
.line.reference{stroke:#0b5394;stroke-dasharray:9 4}.band.reference{fill:#0b5394}.line.candidate{stroke:#14171a}.band.candidate{fill:#14171a}
.wash{opacity:.45}.p-ready{fill:#e3e6e8}.p-take-back{fill:#bcd9f2}.p-drop{fill:#f7df8f}.p-forward-swing{fill:#f5b58f}.p-follow-through{fill:#bfe0bd}.p-recovery{fill:#dccdec}.p-toss{fill:#b9e4e2}
.mark{stroke:#14171a;stroke-width:1.5}.error{fill:#14171a}
line.span{stroke:#14171a;stroke-width:4}line.span.rough{stroke-dasharray:5 4}line.end{stroke:#14171a;stroke-width:2}line.value{stroke:#a2360b;stroke-width:4}line.zero{stroke:#14171a;stroke-width:2}
.limb{stroke:#14171a;stroke-width:4.5;stroke-linecap:round}.head{fill:#14171a}.racket{stroke:#a2360b;stroke-width:2.5;stroke-linecap:round}.racket.face{stroke-width:6}.path{fill:none;stroke:#a2360b;stroke-width:1.3}
.limb.reference{stroke:#0b5394}.head.reference{fill:#0b5394}.racket.reference,.path.reference{stroke:#0b5394}
.racket.candidate,.path.candidate{stroke:#14171a}
`

// pageStyle is the look of a page of pictures.
const pageStyle = `html{font:400 106%/1.45 system-ui,sans-serif;color:#14171a}body{margin:1.5rem auto;max-width:64rem;padding:0 1rem;font-variant-numeric:tabular-nums}
h1{font-size:1.6rem;margin:0 0 .3rem}h2{font-size:1.3rem;margin:2rem 0 .4rem;border-top:.3rem solid #0b3d2e;padding-top:.5rem}h3{font-size:1.05rem;margin:1.2rem 0 .3rem}p{margin:.4rem 0}
.soft{color:#40474e;font-size:.93rem}.cue{border-left:.6rem solid #0b3d2e;background:#eef1f3;padding:.5rem .9rem;margin:.7rem 0}.cue.correct,.cue.caution,.cue.capture{border-color:#a2360b}.cue strong{display:block;font-size:1.5rem;line-height:1.2}
.warning{border-left:.4rem solid #a2360b;padding-left:.7rem}
figure{margin:.6rem 0}svg{display:block;width:100%;height:auto}.plots{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,26rem),1fr));gap:0 1.2rem}.strip{display:grid;grid-template-columns:repeat(auto-fill,minmax(8rem,1fr));gap:.5rem}.strip figure{background:#eef1f3;margin:0;padding:.3rem}.strip figcaption{font-size:.9rem}
table{border-collapse:collapse;width:100%}th,td{text-align:left;vertical-align:top;padding:.25rem .6rem .25rem 0;border-bottom:1px solid #c3c9cf;font-weight:400}thead th{font-weight:650}td.number{white-space:nowrap;font-weight:650}td.rough{font-weight:400}td.picture{width:12rem;min-width:8rem}
.columns{display:grid;grid-template-columns:repeat(auto-fit,minmax(17rem,1fr));gap:1rem;align-items:start}.column{border-top:.5rem solid}.same{border-color:#1b6e3c}.different{border-color:#a2360b}.cannot-tell{border-color:#5a646d;border-top-style:dashed}.column ul{list-style:none;padding:0}.column li{border-bottom:1px solid #c3c9cf;padding:.4rem 0}
.tag{font-size:.85rem;padding:.05rem .4rem;border-radius:.3rem;background:#eef1f3}.wide{overflow-x:auto}@media print{h2{break-before:page}}
`
