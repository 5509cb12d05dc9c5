import type { Mark, Symbol } from './picture.js'

const DASH_ARRAY = { solid: '', dashed: ' stroke-dasharray="6 3"', dotted: ' stroke-dasharray="2 3"' } as const

const SHAPES: Readonly<Record<Symbol, string>> = {
  circle: '<circle cx="14" cy="7" r="4"',
  diamond: '<path d="M14 2l5 5-5 5-5-5z"',
  triangle: '<path d="M14 2l5 9H9z"',
  rect: '<path d="M10 3h8v8h-8z"',
}

/** The line, mark or area itself, to stand before its name in the legend. */
export function legendGlyph(mark: Mark): string {
  return `<svg class="glyph" viewBox="0 0 28 14" width="28" height="14" aria-hidden="true">${shape(mark)}</svg>`
}

function shape(mark: Mark): string {
  switch (mark.kind) {
    case 'line':
      return `<path d="M0 7h28" fill="none" stroke="${mark.color}" stroke-width="2"${DASH_ARRAY[mark.dash]}/>`
    case 'symbol':
      return `${SHAPES[mark.symbol]} fill="${mark.filled ? mark.color : '#fff'}" stroke="${mark.color}" stroke-width="1.2"/>`
    case 'area':
      return `<path d="M2 1h24v12H2z" fill="${mark.color}" stroke="#6b6b6b" stroke-width="0.5"/>`
  }
}
