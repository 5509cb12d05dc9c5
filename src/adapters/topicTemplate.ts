import { type Fault, showValue } from '../model/faults.js'

/** A topic filter with named levels, such as `plant/{analyzer}/turbidity`. */
export interface TopicTemplate {
  /** What the broker is asked for: `plant/+/turbidity`. */
  readonly filter: string
  /** Names used, in order of appearance. */
  readonly names: readonly string[]
  /** Texts of the named levels of a topic; undefined where the topic does not fit. */
  readonly match: (topic: string) => Readonly<Record<string, string>> | undefined
}

export type ParsedTemplate =
  { readonly ok: true; readonly template: TopicTemplate } | { readonly ok: false; readonly fault: Fault }

type Level =
  | { readonly kind: 'text'; readonly text: string }
  | { readonly kind: 'any' }
  | { readonly kind: 'rest' }
  | { readonly kind: 'named'; readonly name: string; readonly before: string; readonly after: string }

/**
 * Reads a template. A level may hold one name in braces, with text around it (`turb-{analyzer}`); `+` and `#` mean
 * what they mean in MQTT (OASIS MQTT 5.0 §4.7). A template that starts with a wildcard does not match `$` topics.
 */
export function parseTopicTemplate(text: string): ParsedTemplate {
  const levels: Level[] = []
  const parts = text.split('/')
  const names = new Set<string>()
  if (text === '' || text.includes('\u0000')) return refuse(text, 'must be at least one character, none of them NUL')
  for (const [index, part] of parts.entries()) {
    const level = parseLevel(part, index === parts.length - 1)
    if (typeof level === 'string') return refuse(text, level)
    if (level.kind === 'named') {
      if (names.has(level.name)) return refuse(text, `must name {${level.name}} once only`)
      names.add(level.name)
    }
    levels.push(level)
  }
  const filter = levels.map(filterOf).join('/')
  return { ok: true, template: { filter, names: [...names], match: topic => matchLevels(levels, topic) } }
}

function parseLevel(part: string, last: boolean): Level | string {
  if (part === '+') return { kind: 'any' }
  if (part === '#') return last ? { kind: 'rest' } : 'must have # as its last level only'
  if (!/[{}+#]/.test(part)) return { kind: 'text', text: part }
  const named = /^([^{}+#]*)\{([A-Za-z][A-Za-z0-9]{0,63})\}([^{}+#]*)$/.exec(part)
  if (named === null) return 'must have levels of plain text, +, #, or text with one name in braces such as {analyzer}'
  return { kind: 'named', before: named[1]!, name: named[2]!, after: named[3]! }
}

function filterOf(level: Level): string {
  if (level.kind === 'text') return level.text
  return level.kind === 'rest' ? '#' : '+'
}

function matchLevels(levels: readonly Level[], topic: string): Record<string, string> | undefined {
  const parts = topic.split('/')
  if (topic.startsWith('$') && levels[0]!.kind !== 'text') return undefined
  const values: Record<string, string> = {}
  for (const [index, level] of levels.entries()) {
    // `a/#` matches `a` as well.
    if (level.kind === 'rest') return values
    const part = parts[index]
    if (part === undefined) return undefined
    if (level.kind === 'text' && level.text !== part) return undefined
    if (level.kind !== 'named') continue
    if (part.length <= level.before.length + level.after.length) return undefined
    if (!part.startsWith(level.before) || !part.endsWith(level.after)) return undefined
    values[level.name] = part.slice(level.before.length, part.length - level.after.length)
  }
  return parts.length === levels.length ? values : undefined
}

function refuse(text: string, rule: string): ParsedTemplate {
  return { ok: false, fault: { code: 'invalid_field', field: 'topic', value: showValue(text), rule } }
}
