import type { Unit } from '../../model/units.js'
import { VALUE_OF_BAD_QUALITY } from '../mapping.js'
import { readQualityWord } from '../qualityWords.js'
import { type CameWith, type Companion, type Companions, companionsOf, type Held, hold, valuesAt } from './held.js'
import type { Target } from './metricTable.js'
import type { Refusal } from './refusals.js'
import type { Birth } from './session.js'
import { numberOf, qualityOfCode, wordOf } from './value.js'
import type { WireMetric, WirePayload, WireValue } from './wire.js'

/** A message of kind `reading` in its wire form; the decoder of messages still has to see it. */
export interface Reading extends Partial<Record<Companion, number | string>> {
  readonly kind: 'reading'
  readonly analyzer: string
  readonly time: string
  readonly value: number
  readonly unit: Unit
}

export interface MetricsOptions {
  readonly payload: WirePayload
  readonly find: (metric: string) => Target | undefined
  readonly birth: Birth | undefined
  readonly takesAliases: boolean
  readonly isBirth: boolean
  readonly source: string
  readonly held: ReadonlyMap<string, Held>
}

export interface ReadMetrics {
  readonly messages: readonly Reading[]
  readonly refusals: readonly Refusal[]
  /** Of the analyzers whose held values came anew. */
  readonly held: ReadonlyMap<string, Held>
}

/** A metric that is of interest, with its time and type. */
interface Sample {
  readonly name: string
  readonly target: Target & { readonly unit: Unit }
  readonly metric: WireMetric
  readonly datatype: number | undefined
  readonly atMs: number
}

/** Makes readings of the metrics of one payload: each `value` is one, with what else is known of its analyzer then. */
export function readMetrics(options: MetricsOptions): ReadMetrics {
  const refusals: Refusal[] = []
  const samples = options.payload.metrics.flatMap(metric => {
    const sample = sampleOf(metric, options)
    if (sample === undefined) return []
    if ('rule' in sample) refusals.push(sample)
    return 'rule' in sample ? [] : [sample]
  })
  const came = new Map<string, CameWith[]>()
  for (const sample of samples) {
    if (sample.target.field === 'value') continue
    const value = companionOf(sample)
    const { analyzer, field } = sample.target
    if (value === undefined) refusals.push(unreadable(sample))
    else {
      const { atMs, metric } = sample
      const one = { field, value, atMs, source: options.source, isHistorical: metric.isHistorical }
      const known = came.get(analyzer)
      if (known === undefined) came.set(analyzer, [one])
      else known.push(one)
    }
  }
  const companions = new Map<string, Companions>()
  const messages = samples.flatMap(sample => {
    if (sample.target.field !== 'value') return []
    const { analyzer } = sample.target
    const own = companions.get(analyzer) ?? companionsOf(options.held.get(analyzer) ?? {}, came.get(analyzer) ?? [])
    companions.set(analyzer, own)
    const reading = readingOf(sample, valuesAt(own, sample.atMs))
    if (reading === undefined) refusals.push(unreadable(sample))
    return reading === undefined ? [] : [reading]
  })
  const held = new Map(
    [...came].map(([analyzer, values]) => [analyzer, hold(options.held.get(analyzer) ?? {}, values)]),
  )
  return { messages, refusals, held }
}

/** Year 9999 is the last that a time has four digits for. */
const LATEST_MS = Date.UTC(9999, 11, 31, 23, 59, 59, 999)

/** @returns undefined for a metric nobody asked for */
function sampleOf(metric: WireMetric, options: MetricsOptions): Sample | Refusal | undefined {
  const { birth, payload, isBirth, takesAliases } = options
  const { alias } = metric
  if (metric.name === undefined && isBirth) {
    const rule = 'must have a name in a birth (tck-id-payloads-alias-birth-requirement)'
    return { code: 'missing_field', field: 'metric.name', value: shownAlias(alias), rule }
  }
  if (metric.name === undefined && alias === undefined) {
    const rule = 'must have a name or an alias (tck-id-payloads-name-requirement)'
    return { code: 'missing_field', field: 'metric.name', value: undefined, rule }
  }
  const born = metric.name === undefined ? birth?.byAlias.get(alias!) : birth?.byName.get(metric.name)
  if (metric.name === undefined && (!takesAliases || born === undefined)) {
    return {
      code: 'no_birth',
      field: 'metric.alias',
      value: shownAlias(alias),
      rule: takesAliases ? UNKNOWN : IN_DOUBT,
    }
  }
  const name = metric.name ?? born!.name
  const target = options.find(name)
  if (target === undefined) return undefined
  const { analyzer, unit } = target
  if (unit === undefined) {
    const rule = 'must be an analyzer of the register'
    return { code: 'unknown_analyzer', field: 'reading.analyzer', value: analyzer, rule }
  }
  const atMs = metric.timestampMs ?? payload.timestampMs
  if (atMs === undefined || atMs > LATEST_MS) {
    const rule = 'must be milliseconds since 1970 (tck-id-payloads-name-birth-data-requirement)'
    const code = atMs === undefined ? 'missing_field' : 'invalid_field'
    return { code, field: 'metric.timestamp', value: atMs ?? name, rule }
  }
  return { name, target: { ...target, unit }, metric, datatype: metric.datatype ?? born?.datatype, atMs }
}

const IN_DOUBT =
  'must have a name until the next birth: a message was lost, or no birth was seen yet, and aliases may have been given anew; have a host application ask the edge node for a rebirth'
const UNKNOWN = 'must be an alias of the birth, given once (tck-id-payloads-alias-uniqueness)'

function shownAlias(alias: bigint | undefined): string | undefined {
  return alias === undefined ? undefined : `alias ${String(alias)}`
}

function readingOf(
  { target, metric, datatype, atMs }: Sample,
  others: Partial<Record<Companion, number | string>>,
): Reading | undefined {
  const value = metric.value === undefined ? undefined : numberOf(metric.value, datatype)
  if (value === undefined && !metric.isNull) return undefined
  const isNumber = value !== undefined && Number.isFinite(value)
  const quality = isNumber ? ownQuality(metric.properties.get('Quality')) : 'bad'
  return {
    kind: 'reading',
    analyzer: target.analyzer,
    time: new Date(atMs).toISOString(),
    // The source says that it has no value: a reading that is counted and never used.
    value: isNumber ? value : VALUE_OF_BAD_QUALITY,
    unit: target.unit,
    ...others,
    ...(quality === undefined ? {} : { quality }),
  }
}

/** The property must be an integer (tck-id-payloads-propertyset-quality-value-type). */
function ownQuality(property: WireValue | undefined): string | undefined {
  if (property === undefined) return undefined
  const code = numberOf(property, undefined)
  return code === undefined ? 'bad' : qualityOfCode(code)
}

/**
 * A value that goes with readings: null where it has none. Words nobody has told us about stay as they came, so that
 * the decoder of messages refuses the readings they would go with, as it does for every feed.
 * @returns undefined where it is neither number nor word
 */
function companionOf({ target, metric, datatype }: Sample): number | string | null | undefined {
  const { field, words } = target
  if (metric.isNull) return null
  if (metric.value === undefined) return undefined
  const number = numberOf(metric.value, datatype)
  if (field !== 'quality' && field !== 'state' && number !== undefined) return Number.isFinite(number) ? number : null
  const word = wordOf(metric.value, datatype)
  if (word === undefined) return undefined
  if (words !== undefined) return Object.hasOwn(words, word) ? words[word] : word
  if (field !== 'quality') return word
  return number === undefined ? (readQualityWord(word) ?? word) : qualityOfCode(number)
}

function unreadable({ name, target, metric, datatype }: Sample): Refusal {
  const rule = `must hold what ${target.field} needs, of its type${datatype === undefined ? '' : ` (datatype ${String(datatype)})`}`
  return { code: 'invalid_field', field: `metric.${metric.value?.field ?? 'value'}`, value: name, rule }
}
