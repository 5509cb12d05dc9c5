import { z } from 'zod'
import { nameSchema } from './names.js'
import { parseInstant } from './time.js'
import { UNITS } from './units.js'

/**
 * Messages in, as they stand on the wire. One JSON object each, told apart by `kind`; unknown fields are kept out
 * and counted. The schemas hold no transforms, so JSON Schemas are generated from them as they are.
 */
const instant = z.string().refine(text => parseInstant(text) !== undefined, {
  error: 'must be an RFC 3339 time with offset, such as 2026-05-09T10:15:00Z',
})
const text = z.string().min(1).max(200)
const serial = z.string().min(1).max(64)
/** No turbidity instrument reads beyond ten thousand units; a value there is a slip of the decimal point. */
const turbidity = z.number().min(-1_000_000).max(1_000_000)
const uncertainty = z.number().min(0).max(10_000)
const unit = z.enum(UNITS)

export const readingSchema = z.looseObject({
  kind: z.literal('reading'),
  analyzer: nameSchema,
  time: instant,
  value: turbidity,
  unit,
  state: z.enum(['measuring', 'maintenance', 'calibrating', 'fault']).optional(),
  quality: z.enum(['good', 'uncertain', 'bad']).optional(),
  flowLMin: z.number().min(0).max(1_000).optional(),
  lightSourcePct: z.number().min(0).max(1_000).optional(),
  temperatureC: z.number().min(-50).max(150).optional(),
  seq: z.int().min(0).optional(),
})

export const grabSchema = z.looseObject({
  kind: z.literal('grab'),
  point: nameSchema,
  sampled: instant,
  /** The other instant a local time without offset may mean, in the hour that clocks repeat; later than `sampled`. */
  sampledAlso: instant.optional(),
  /** A number, or text such as "<0.02" for a result below the laboratory's reporting limit. */
  value: z.union([
    turbidity,
    z.string().regex(/^\s*[<>]\s*\d{1,7}(\.\d{1,9})?\s*$/, { error: 'must be a number, or < or > followed by one' }),
  ]),
  unit,
  qualifier: z.enum(['<', '>']).optional(),
  sampleId: serial.optional(),
  corrects: serial.optional(),
  replicates: z.int().min(1).max(100).optional(),
  analysed: instant.optional(),
  reported: instant.optional(),
  method: text.optional(),
  standardUncertainty: uncertainty.optional(),
  laboratoryInstrument: nameSchema.optional(),
})

export const WORK_ACTIONS = [
  'maintenance_on',
  'maintenance_off',
  'cleaned',
  'line_flushed',
  'verified',
  'zero',
  'span',
  'calibrated_primary',
  'standard_assigned',
  'light_source_replaced',
  'part_replaced',
  'replaced',
] as const
export type WorkAction = (typeof WORK_ACTIONS)[number]

export const STANDARD_TYPES = ['zero_water', 'source_off', 'secondary_standard', 'primary_standard'] as const
export type StandardType = (typeof STANDARD_TYPES)[number]

export const workSchema = z.looseObject({
  kind: z.literal('work'),
  analyzer: nameSchema,
  time: instant,
  id: serial.optional(),
  corrects: serial.optional(),
  action: z.enum(WORK_ACTIONS),
  reference: z
    .looseObject({
      type: z.enum(STANDARD_TYPES),
      id: serial.optional(),
      lot: serial.optional(),
      expires: z.iso.date().optional(),
      assigned: turbidity,
      standardUncertainty: uncertainty.optional(),
    })
    .optional(),
  asFound: turbidity.optional(),
  asFoundClean: turbidity.optional(),
  asLeft: turbidity.optional(),
  /** A second meter in the same water, before and after the work. */
  besideBefore: turbidity.optional(),
  besideAfter: turbidity.optional(),
  displayed: turbidity.optional(),
  serial: serial.optional(),
  accepted: z.boolean().optional(),
  visit: serial.optional(),
  by: text.optional(),
  note: z.string().max(2_000).optional(),
  workOrder: serial.optional(),
})

export const DECISIONS = ['acknowledged', 'deferred', 'rejected'] as const

export const responseSchema = z.looseObject({
  kind: z.literal('response'),
  recommendation: z.uuid(),
  time: instant,
  decision: z.enum(DECISIONS),
  until: instant.optional(),
  reason: text.optional(),
  by: text.optional(),
})

export const processSchema = z.looseObject({
  kind: z.literal('process'),
  point: nameSchema,
  time: instant,
  state: z.enum(['in_service', 'to_waste', 'backwash', 'off_line']),
  flowM3h: z.number().min(0).max(1_000_000).optional(),
})

export const laboratoryCheckSchema = z.looseObject({
  kind: z.literal('laboratory_check'),
  laboratoryInstrument: nameSchema,
  time: instant,
  reference: z.number().min(0).max(1_000_000),
  asFound: turbidity,
})

/** Written by the service itself at start and at each accepted edit: the body is the register as JSON. */
export const registerMessageSchema = z.looseObject({
  kind: z.literal('register'),
  hash: z.string().regex(/^[0-9a-f]{16}$/),
  changed: z.array(z.string().max(200)).max(10_000),
  body: z.record(z.string(), z.unknown()),
})

/** Written by the service; the only thing that moves plant time. */
export const tickSchema = z.looseObject({
  kind: z.literal('tick'),
  time: instant,
  /** Feeds that are down or catching up: the silence of their analyzers is the feed's, not theirs. */
  feedsDown: z.array(nameSchema).max(1_000).optional(),
})

export const KINDS = ['reading', 'grab', 'work', 'response', 'process', 'laboratory_check', 'register', 'tick'] as const
export type Kind = (typeof KINDS)[number]
/** Kinds a feed may be given leave to carry; `register` and `tick` come from recordings only. */
export const FEED_KINDS = ['reading', 'grab', 'work', 'response', 'process', 'laboratory_check'] as const
export type FeedKind = (typeof FEED_KINDS)[number]

export const SCHEMA_BY_KIND = {
  reading: readingSchema,
  grab: grabSchema,
  work: workSchema,
  response: responseSchema,
  process: processSchema,
  laboratory_check: laboratoryCheckSchema,
  register: registerMessageSchema,
  tick: tickSchema,
} as const

/** The messages as decoded: known fields only, times as instants in milliseconds. */
type Wire<S extends z.ZodType> = { readonly [K in keyof z.infer<S> as string extends K ? never : K]: z.infer<S>[K] }
type Timed<T, K extends keyof T> = Omit<T, K>

export type Reading = Timed<Wire<typeof readingSchema>, 'time'> & { readonly atMs: number }
export type Grab = Timed<Wire<typeof grabSchema>, 'sampled' | 'sampledAlso' | 'value' | 'analysed' | 'reported'> & {
  readonly sampledMs: number
  readonly sampledAlsoMs?: number
  /** In the unit given. With a qualifier this is the bound. */
  readonly value: number
  readonly reportedMs?: number
}
export type Work = Timed<Wire<typeof workSchema>, 'time'> & { readonly atMs: number }
export type Response = Timed<Wire<typeof responseSchema>, 'time' | 'until'> & {
  readonly atMs: number
  readonly untilMs?: number
}
export type ProcessState = Timed<Wire<typeof processSchema>, 'time'> & { readonly atMs: number }
export type LaboratoryCheck = Timed<Wire<typeof laboratoryCheckSchema>, 'time'> & { readonly atMs: number }
export type RegisterMessage = Wire<typeof registerMessageSchema>
export type Tick = Timed<Wire<typeof tickSchema>, 'time'> & { readonly atMs: number }

export type Message = Reading | Grab | Work | Response | ProcessState | LaboratoryCheck | RegisterMessage | Tick
