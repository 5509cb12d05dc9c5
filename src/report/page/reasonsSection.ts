import type { Explanation } from '../../core/explanation.js'
import { signsBesides } from '../causes.js'
import { type Markup, markup } from '../markup.js'
import { liveRecommendation, sayGround } from '../say.js'

/** Each condition for a request with its value and limit, and what is nearest to changing the answer. */
export function reasonsSection(explanation: Explanation): Markup {
  const { conditions, nearest } = explanation
  const signs = signsBesides(explanation)
  const title = liveRecommendation(explanation) === undefined ? 'Why nothing is asked' : 'Why it is asked'
  const ground = sayGround(explanation)
  return markup`<section aria-labelledby="reasons">
<h2 id="reasons">${title}, and what would change that</h2>
${ground === undefined ? undefined : markup`<p>${ground}</p>`}
${
  conditions.length === 0
    ? undefined
    : markup`<ul class="conditions">${conditions.map(
        ({ text, met }) =>
          markup`<li><span class="met"><span aria-hidden="true">${met ? '✓' : '–'}</span> ${met ? 'met' : 'not met'}</span> ${text}</li>\n`,
      )}</ul>`
}
${signs.length === 0 ? undefined : markup`<p>Seen besides: ${signs.join('; ')}.</p>`}
<p><strong>Nearest to changing the answer:</strong> ${nearest}</p>
</section>`
}
