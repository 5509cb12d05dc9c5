import type { Explanation } from '../../core/explanation.js'
import { sayInstant } from '../../model/time.js'
import { entriesOf } from '../counts.js'
import { type Markup, markup } from '../markup.js'
import { sayNumber, sayUse } from '../say.js'
import { EXCLUSION_TEXT } from '../words.js'

/** What was left out of the comparison, how often and why, with each grab that did not count. */
export function exclusionsSection(explanation: Explanation): Markup {
  return markup`<section aria-labelledby="excluded">
<h2 id="excluded">What was left out, and why</h2>
${counts(explanation)}
${grabs(explanation)}
</section>`
}

function counts({ excluded }: Explanation): Markup {
  const entries = entriesOf(excluded)
  if (entries.length === 0) return markup`<p>No reading, block or pair was left out.</p>`
  return markup`<table class="narrow-table">
<caption>Readings, blocks and pairs left out</caption>
<thead><tr><th scope="col">Reason</th><th scope="col" class="number">Count</th></tr></thead>
<tbody>${entries.map(
    ([reason, count]) =>
      markup`<tr><th scope="row">${EXCLUSION_TEXT[reason]}</th><td class="number">${count}</td></tr>\n`,
  )}</tbody>
</table>`
}

function grabs(explanation: Explanation): Markup | undefined {
  const unused = explanation.grabs.filter(grab => grab.use !== 'used')
  if (unused.length === 0) return undefined
  return markup`<h3>Grab samples that did not count</h3>
<ul>${unused.map(
    ({ atMs, sampleId, grabNtu, analyzerNtu, use }) =>
      markup`<li>${sampleId === undefined ? '' : `${sampleId}, `}${sayInstant(atMs)}: laboratory ${sayNumber(grabNtu)} NTU${
        analyzerNtu === undefined ? '' : `, analyzer ${sayNumber(analyzerNtu)} NTU`
      }: ${sayUse(use)}</li>\n`,
  )}</ul>`
}
