import type { Explanation } from '../../core/explanation.js'
import { COMPARISON_TITLE, comparisonFacts, comparisonRemarks } from '../comparison.js'
import { type Markup, markup } from '../markup.js'
import { comparisonPicture } from '../pictures/comparisonPicture.js'
import { regionPicture } from '../pictures/regionPicture.js'
import { figure } from './figure.js'

/** The line of the analyzer's values on the grab samples: numbers, how to take them, pictures. */
export function comparisonSection({ analyzer, comparison }: Explanation): Markup {
  const pictures = [comparisonPicture(analyzer, comparison), regionPicture(analyzer, comparison)]
  return markup`<section aria-labelledby="comparison">
<h2 id="comparison">${COMPARISON_TITLE}</h2>
<dl class="facts">${comparisonFacts(comparison).map(
    ({ label, value }) => markup`<div><dt>${label}</dt><dd>${value}</dd></div>\n`,
  )}</dl>
${comparisonRemarks(comparison).map(remark => markup`<p>${remark}</p>\n`)}
${pictures.flatMap(picture => (picture === undefined ? [] : [figure(picture)]))}
</section>`
}
