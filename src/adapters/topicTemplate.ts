import { type Fault, showValue } from '../model/faults.js'
import { parseTopicLevels, type TopicLevel } from './topicLevels.js'

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

/** Reads a template; one that starts with a wildcard does not match `$` topics (OASIS MQTT 5.0 §4.7.2). */
export function parseTopicTemplate(text: string): ParsedTemplate {
  const parsed = parseTopicLevels(text)
  if (!parsed.ok) {
    return { ok: false, fault: { code: 'invalid_field', field: 'topic', value: showValue(text), rule: parsed.rule } }
  }
  const { levels } = parsed
  const filter = levels.map(filterOf).join('/')
  const names = levels.flatMap(level => (level.kind === 'named' ? [level.name] : []))
  return { ok: true, template: { filter, names, match: topic => matchLevels(levels, topic) } }
}

function filterOf(level: TopicLevel): string {
  if (level.kind === 'text') return level.text
  return level.kind === 'rest' ? '#' : '+'
}

function matchLevels(levels: readonly TopicLevel[], topic: string): Record<string, string> | undefined {
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
