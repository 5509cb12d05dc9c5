import type { Explanation } from '../../core/explanation.js'
import { sayInstant } from '../../model/time.js'
import { type Markup, markup } from '../markup.js'
import { chartPicture } from '../pictures/chartPicture.js'
import { differencePicture } from '../pictures/differencePicture.js'
import { workLabel } from '../pictures/marks.js'
import { readingsPicture } from '../pictures/readingsPicture.js'
import { figure } from './figure.js'

/** Readings, differences, and the chart of each line, with the work they show. */
export function picturesSection(explanation: Explanation): Markup {
  const pictures = [
    readingsPicture(explanation),
    differencePicture(explanation),
    ...explanation.lines.map((line, index) => chartPicture(explanation, line, index)),
  ].filter(picture => picture !== undefined)
  return markup`<section aria-labelledby="pictures">
<h2 id="pictures">Pictures</h2>
${pictures.length === 0 ? markup`<p>No readings are held for this time, so there is nothing to draw.</p>` : pictures.map(figure)}
${workList(explanation)}
</section>`
}

function workList({ work }: Explanation): Markup {
  if (work.length === 0) return markup`<p>No work is on record for these days.</p>`
  return markup`<h3>Work on record</h3>
<dl class="facts">${work.map(
    ({ atMs, text }, index) => markup`<div><dt>${workLabel(index)}, ${sayInstant(atMs)}</dt><dd>${text}</dd></div>\n`,
  )}</dl>`
}
