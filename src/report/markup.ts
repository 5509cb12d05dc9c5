import { plainText } from './plainText.js'

/** Text that is HTML already. Anything else is escaped when it is put into a template. */
export interface Markup {
  readonly markup: string
}

type Part = string | number | Markup | undefined | readonly Part[]

/** Template tag: fixed parts are HTML, values are escaped text, other markup, or lists of these; undefined is nothing. */
export function markup(fixed: TemplateStringsArray, ...values: readonly Part[]): Markup {
  return { markup: fixed.reduce((text, part, index) => text + show(values[index - 1]) + part) }
}

/** Trusted HTML, made by this program: pictures and style sheets. */
export function asMarkup(trusted: string): Markup {
  return { markup: trusted }
}

export function escapeHtml(text: string): string {
  return plainText(text).replace(/[&<>"']/g, character => ENTITIES[character]!)
}

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
}

function show(part: Part): string {
  if (part === undefined) return ''
  if (typeof part === 'string') return escapeHtml(part)
  if (typeof part === 'number') return String(part)
  if ('markup' in part) return part.markup
  return part.map(show).join('')
}
