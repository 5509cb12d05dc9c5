import { parseTopicLevels, type TopicLevel } from './topicLevels.js'

type NamedLevel = Extract<TopicLevel, { readonly kind: 'named' }>

/**
 * True where there is a topic that both filters match (OASIS MQTT 5.0 §4.7). Both may be templates: a named level
 * matches some text with what stands around the name.
 * @throws RangeError where one is no filter
 */
export function filtersOverlap(a: string, b: string): boolean {
  const [one, other] = [levelsOf(a), levelsOf(b)]
  if (!mayBegin(one[0]!, other[0]!)) return false
  for (let index = 0; ; index++) {
    const [level, opposite] = [one[index], other[index]]
    // `a/#` matches `a` as well.
    if (level?.kind === 'rest' || opposite?.kind === 'rest') return true
    if (level === undefined || opposite === undefined) return level === opposite
    if (!levelsOverlap(level, opposite)) return false
  }
}

function levelsOf(filter: string): readonly TopicLevel[] {
  const parsed = parseTopicLevels(filter)
  if (!parsed.ok) throw new RangeError(`${JSON.stringify(filter)} ${parsed.rule}`)
  return parsed.levels
}

/** What begins with a wildcard matches no topic that begins with `$` (§4.7.2). */
function mayBegin(a: TopicLevel, b: TopicLevel): boolean {
  const wantsDollar = [a, b].some(level => beginningOf(level).startsWith('$'))
  return !wantsDollar || (a.kind === 'text' && b.kind === 'text')
}

function beginningOf(level: TopicLevel): string {
  if (level.kind === 'text') return level.text
  return level.kind === 'named' ? level.before : ''
}

function levelsOverlap(a: TopicLevel, b: TopicLevel): boolean {
  if (a.kind === 'text') return b.kind === 'text' ? a.text === b.text : b.kind !== 'named' || fits(b, a.text)
  if (b.kind === 'text') return a.kind !== 'named' || fits(a, b.text)
  if (a.kind !== 'named' || b.kind !== 'named') return true
  // The text between is free, so long as what stands around it does not contradict.
  return eitherWay(a.before, b.before, 'startsWith') && eitherWay(a.after, b.after, 'endsWith')
}

function fits({ before, after }: NamedLevel, text: string): boolean {
  return text.length > before.length + after.length && text.startsWith(before) && text.endsWith(after)
}

function eitherWay(a: string, b: string, side: 'startsWith' | 'endsWith'): boolean {
  return a[side](b) || b[side](a)
}
