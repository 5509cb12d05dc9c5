/** One level of a topic filter, or of a template for topics. */
export type TopicLevel =
  | { readonly kind: 'text'; readonly text: string }
  | { readonly kind: 'any' }
  | { readonly kind: 'rest' }
  | { readonly kind: 'named'; readonly name: string; readonly before: string; readonly after: string }

export type ParsedLevels =
  { readonly ok: true; readonly levels: readonly TopicLevel[] } | { readonly ok: false; readonly rule: string }

/**
 * Reads the levels of a filter or template. A level may hold one name in braces, with text around it
 * (`turb-{analyzer}`); `+` and `#` mean what they mean in MQTT (OASIS MQTT 5.0 §4.7).
 */
export function parseTopicLevels(text: string): ParsedLevels {
  if (text === '' || text.includes('\u0000')) return refuse('must be at least one character, none of them NUL')
  const levels: TopicLevel[] = []
  const names = new Set<string>()
  const parts = text.split('/')
  for (const [index, part] of parts.entries()) {
    const level = parseLevel(part, index === parts.length - 1)
    if (typeof level === 'string') return refuse(level)
    if (level.kind === 'named') {
      if (names.has(level.name)) return refuse(`must name {${level.name}} once only`)
      names.add(level.name)
    }
    levels.push(level)
  }
  return { ok: true, levels }
}

function parseLevel(part: string, last: boolean): TopicLevel | string {
  if (part === '+') return { kind: 'any' }
  if (part === '#') return last ? { kind: 'rest' } : 'must have # as its last level only'
  if (!/[{}+#]/.test(part)) return { kind: 'text', text: part }
  const named = /^([^{}+#]*)\{([A-Za-z][A-Za-z0-9]{0,63})\}([^{}+#]*)$/.exec(part)
  if (named === null) return 'must have levels of plain text, +, #, or text with one name in braces such as {analyzer}'
  return { kind: 'named', before: named[1]!, name: named[2]!, after: named[3]! }
}

function refuse(rule: string): ParsedLevels {
  return { ok: false, rule }
}
