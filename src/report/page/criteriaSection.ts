import type { Explanation } from '../../core/explanation.js'
import { CRITERIA_TEXT, CRITERIA_TITLE, OUTCOME_TEXT, sayCompared, saySource } from '../criteria.js'
import { type Markup, markup } from '../markup.js'

/** The published criteria of the point, where its register names any: a section of its own, apart from the finding. */
export function criteriaSection({ criteria }: Explanation): Markup | undefined {
  if (criteria === undefined) return undefined
  return markup`<section aria-labelledby="criteria">
<h2 id="criteria">${CRITERIA_TITLE}</h2>
<p>${CRITERIA_TEXT}</p>
<dl class="facts">${criteria.map(
    one =>
      markup`<div><dt>${saySource(one)}: ${OUTCOME_TEXT[one.outcome]}</dt><dd>${one.summary}. Compared: ${sayCompared(one)}.</dd></div>\n`,
  )}</dl>
</section>`
}
