import type { Explanation } from '../../core/explanation.js'
import { formatInstant, sayInstant } from '../../model/time.js'
import { type Markup, markup } from '../markup.js'
import { liveRecommendation } from '../say.js'

/** How to get the same page and the same events again. */
export function reproduceSection(explanation: Explanation): Markup {
  const live = liveRecommendation(explanation)
  const { registerHash, fromMs, toMs } = explanation.reproduce
  const at = explanation.atMs === 0 ? '' : ` --at ${formatInstant(explanation.atMs)}`
  const input = fromMs === 0 ? 'no block worked through yet' : `${sayInstant(fromMs)} to ${sayInstant(toMs)}`
  return markup`<section aria-labelledby="reproduce">
<h2 id="reproduce">How to get the same again</h2>
<p>This page:</p>
<pre><code>turbidrift explain ${explanation.analyzer}${at} --html evidence.html</code></pre>
<p>The events: export the journal with <code>turbidrift export-journal</code> and replay it with <code>turbidrift replay</code>; the same recorded input gives the same bytes on any machine.</p>
<dl class="facts">
${
  live === undefined
    ? undefined
    : markup`<div><dt>Recommendation</dt><dd><code>${live.recommendation}</code>, revision ${live.revision}</dd></div>\n`
}<div><dt>Register</dt><dd><code>${registerHash}</code></dd></div>
<div><dt>Recorded input</dt><dd>${input}</dd></div>
</dl>
</section>`
}
