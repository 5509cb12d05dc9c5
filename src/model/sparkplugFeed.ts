import { z } from 'zod'
import { readingSchema } from './messages.js'
import { nameSchema } from './names.js'

/** Fields of a reading that metrics of Sparkplug may carry: `value` makes a reading, the others go with it. */
const FIELDS = ['value', 'quality', 'state', 'flowLMin', 'temperatureC', 'lightSourcePct'] as const
export type SparkplugField = (typeof FIELDS)[number]

const WORDS = {
  quality: readingSchema.shape.quality.unwrap().options,
  state: readingSchema.shape.state.unwrap().options,
}

/** Sparkplug 3.0.0, tck-id-topic-structure-namespace-valid-group-id, -valid-edge-node-id, -valid-device-id. */
const identifier = z
  .string()
  .max(200)
  .regex(/^[^+#/\u0000]+$/, { error: 'must be an identifier of Sparkplug: some characters, none of them +, # or /' })

const metricSchema = z.strictObject({
  device: identifier
    .optional()
    .describe('device_id; {analyzer} stands for the name of each analyzer; default: the edge node itself'),
  metric: z
    .string()
    .min(1)
    .max(500)
    .describe('name of the metric in its birth; {analyzer} as in device, in one of the two'),
  field: z
    .enum(FIELDS)
    .describe('what of the reading it is; numbers in the unit of the name, value in the unit of the analyzer'),
  analyzer: nameSchema.optional().describe('whose it is, where neither device nor metric has {analyzer}'),
  words: z
    .record(z.string().min(1).max(80), z.enum([...WORDS.quality, ...WORDS.state]))
    .optional()
    .describe('only with quality or state: text, number or true/false as it comes, and what it means'),
})
export type SparkplugMetric = z.infer<typeof metricSchema>

/** What a feed of Sparkplug B has besides its broker. */
export const sparkplugFields = {
  type: z.literal('sparkplug'),
  group: identifier.describe('group_id of the edge nodes'),
  node: identifier.optional().describe('edge_node_id; default: every edge node of the group'),
  metrics: z.array(metricSchema).min(1).max(10_000).describe('which metric is what; the first that fits counts'),
}

export const ANALYZER_SLOT = '{analyzer}'

export interface RowFault {
  readonly path: readonly (string | number)[]
  readonly value: unknown
  readonly rule: string
}

/** The rules between the fields of the table of metrics, paths from the table on. */
export function metricFaults(rows: readonly SparkplugMetric[], analyzers: ReadonlyMap<string, unknown>): RowFault[] {
  const seen = new Set<string>()
  const faults = rows.flatMap((row, index) => {
    const key = JSON.stringify([row.device, row.metric])
    const twice = seen.has(key) ? [{ path: [index, 'metric'], value: row.metric, rule: 'is given twice' }] : []
    seen.add(key)
    return [...twice, ...whoseFaults(row, index, analyzers), ...wordFaults(row, index)]
  })
  if (rows.some(row => row.field === 'value')) return faults
  return [...faults, { path: [], value: rows.length, rule: 'must name a metric whose field is value' }]
}

function whoseFaults(row: SparkplugMetric, index: number, analyzers: ReadonlyMap<string, unknown>): RowFault[] {
  const { device = '', metric, analyzer } = row
  const slots = device.split(ANALYZER_SLOT).length + metric.split(ANALYZER_SLOT).length - 2
  if (slots > 1)
    return [{ path: [index, 'metric'], value: metric, rule: 'must hold {analyzer} once, in device or metric' }]
  if (slots === 1 && analyzer !== undefined) {
    return [{ path: [index, 'analyzer'], value: analyzer, rule: 'must be left out where {analyzer} says whose it is' }]
  }
  if (slots === 0 && (analyzer === undefined || !analyzers.has(analyzer))) {
    const rule = 'must be an analyzer of the register, or device or metric must hold {analyzer}'
    return [{ path: [index, 'analyzer'], value: analyzer, rule }]
  }
  return []
}

function wordFaults({ field, words }: SparkplugMetric, index: number): RowFault[] {
  if (words === undefined) return []
  if (field !== 'quality' && field !== 'state') {
    return [{ path: [index, 'words'], value: words, rule: 'must be left out: only quality and state have words' }]
  }
  const allowed: readonly string[] = WORDS[field]
  return Object.entries(words)
    .filter(([, meaning]) => !allowed.includes(meaning))
    .map(([word, meaning]) => ({
      path: [index, 'words', word],
      value: meaning,
      rule: `must be one of ${allowed.join(', ')} for ${field}`,
    }))
}
