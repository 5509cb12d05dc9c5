import { asMarkup, type Markup, markup } from '../markup.js'
import { legendGlyph } from '../pictures/legendGlyph.js'
import type { Picture } from '../pictures/picture.js'

/** A picture with its title, legend and what to see in it. */
export function figure({ title, caption, legend, svg }: Picture): Markup {
  return markup`<figure>
<h3>${title}</h3>
<ul class="legend">${legend.map(({ mark, text }) => markup`<li>${asMarkup(legendGlyph(mark))}${text}</li>`)}</ul>
${asMarkup(svg)}
<figcaption>${caption}</figcaption>
</figure>
`
}
