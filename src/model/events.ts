import { z } from 'zod'
import { STANDARD_TYPES, WORK_ACTIONS } from './messages.js'
import { CRITERIA } from './publishedRules.js'
import {
  ACTIONS,
  ASSESSMENTS,
  CAUSES,
  type EVENT_TYPES,
  EXCLUSIONS,
  FINDINGS,
  LINES,
  OUTCOMES,
  RATINGS,
  URGENCIES,
} from './vocabulary.js'

/**
 * Messages out: the `data` of each CloudEvent. Numbers are rounded before they get here; times are RFC 3339, UTC,
 * whole seconds. Fields that are not known are left out, never null, but for `forecast`.
 */
const time = z.iso.datetime()
/** One sentence a tired engineer understands. */
const summary = z.string().min(1).max(400)
const interval = z.tuple([z.number(), z.number()])
const exclusions = z.partialRecord(z.enum(EXCLUSIONS), z.int().min(1))
const notify = z.enum(['at_once', 'shift_summary'])
const sentences = z.array(z.string().min(1).max(400)).max(40)

const estimate = z.object({ value: z.number(), ci95: interval })

export const biasSchema = z.object({
  ntu: z.number(),
  ci95: interval,
  atLevelNtu: z.number(),
  /** Signed size in tolerances at that level, with its interval. */
  ofTolerance: z.number(),
  ofToleranceCi95: interval,
  toleranceNtu: z.number(),
  /** What the water really is when the analyzer shows an action level. */
  trueAtActionLevels: z.array(z.object({ shownNtu: z.number(), trueNtu: z.number() })),
})

export const chartSchema = z.object({
  delta0: z.number(),
  delta1: z.number(),
  limit: z.number(),
  statistic: z.number(),
  side: z.enum(['high', 'low']),
  peakAt: time.optional(),
  /** Mean time between false signals of this chart with the bias at delta0, analyzer-years. */
  alarmFreeYears: z.number().optional(),
})

export const evidenceSchema = z.object({
  line: z.enum(LINES),
  /** Against what: a unit, the grab samples, a standard. */
  against: z.string(),
  n: z.int().min(0),
  /** What a line without a chart says, in words. */
  says: z.string().max(400).optional(),
  chart: chartSchema.optional(),
  biasNtu: z.number().optional(),
  sigmaNtu: z.number().optional(),
  excluded: exclusions,
  /** Newest last: time, difference to the reference in tolerances, its standard uncertainty. */
  points: z.array(z.tuple([time, z.number(), z.number()])).max(120),
})

/**
 * Heaviest first. Where no cause reaches 0.9 `undecided` stands before them with what the first one lacks of certainty;
 * it is no cause and not part of the sum.
 */
export const causesSchema = z.object({
  ranked: z.array(z.object({ cause: z.enum(CAUSES), probability: z.number().min(0).max(1) })).min(1),
  because: sentences,
})

export const procedureSchema = z.object({
  zeroMethod: z.enum(['zero_water', 'source_off']).optional(),
  spanReference: z.enum(STANDARD_TYPES).optional(),
  standard: z
    .object({
      id: z.string(),
      assignedNtu: z.number(),
      lot: z.string().optional(),
      expires: z.string().optional(),
    })
    .optional(),
  /** References of the register to take along, in the order of use. */
  bring: z
    .array(
      z.object({
        id: z.string(),
        type: z.enum(STANDARD_TYPES),
        assignedNtu: z.number(),
        lot: z.string().optional(),
        expires: z.string().optional(),
      }),
    )
    .optional(),
  steps: sentences,
  cautions: sentences,
})

export const targetSchema = z.object({
  analyzer: z.string().optional(),
  point: z.string().optional(),
  laboratoryInstrument: z.string().optional(),
})

export const recommendationSchema = z.object({
  summary,
  notify,
  recommendation: z.uuid(),
  revision: z.int().min(1),
  target: targetSchema,
  analyzer: z.string().optional(),
  point: z.string().optional(),
  phase: z.enum(['open', 'awaiting_proof', 'closed']),
  answer: z.enum(['none', 'acknowledged', 'deferred', 'rejected']),
  openedAt: time,
  /** Plant time when the deciding fact came in. */
  known: time,
  urgency: z.enum(URGENCIES),
  respondBy: time,
  action: z.enum(ACTIONS),
  procedure: procedureSchema,
  bias: biasSchema.optional(),
  model: z.object({ zeroNtu: estimate, spanRel: estimate }).optional(),
  cause: causesSchema,
  onset: z.object({ estimate: time, earliest: time.optional(), latest: time }).optional(),
  forecast: z.object({ toleranceAt: time, earliest: time, latest: time.optional() }).nullable(),
  evidence: z.array(evidenceSchema).max(16),
  reproduce: z.object({ registerHash: z.string(), from: time, to: time }),
  /** How it ended, where work or a check says it; counted in the track record. */
  outcome: z.enum(OUTCOMES).optional(),
  /** Why this event was sent: what changed, what the answer was, why it closed. */
  reason: z.string().max(400).optional(),
})

/** A published criterion the register names for the point, beside what was measured: numbers with numbers, no verdict. */
export const criterionSchema = z.object({
  criterion: z.enum(CRITERIA),
  /** Where it is published, and whether its text was read or is from memory. */
  source: z.string(),
  mark: z.enum(['verified', 'from_memory']),
  outcome: z.enum(['within', 'beyond', 'nothing_to_compare']),
  /** What was compared with what. */
  compared: z.string(),
  /** The time looked at. */
  from: time.optional(),
  to: time.optional(),
  summary,
  values: z.record(z.string(), z.union([z.string(), z.number()])),
})

export const statusSchema = z.object({
  summary,
  notify,
  analyzer: z.string(),
  point: z.string(),
  assessment: z.enum(ASSESSMENTS),
  since: time,
  bias: biasSchema.omit({ trueAtActionLevels: true }).optional(),
  lastIndependentEvidence: time.optional(),
  /** What would have to come in for a firmer answer; empty when nothing is missing. */
  missing: sentences,
  findings: z.array(z.enum(FINDINGS)),
  /** What is taken care of and needs no work: quantised readings, maintenance or service inferred, settling. */
  notes: sentences.optional(),
  /** Only where the register names any; apart from the assessment, which does not look at them. */
  criteria: z.array(criterionSchema).max(CRITERIA.length).optional(),
})

export const findingSchema = z.object({
  summary,
  notify,
  analyzer: z.string().optional(),
  point: z.string().optional(),
  finding: z.enum(FINDINGS),
  phase: z.enum(['began', 'continues', 'ended']),
  since: time,
  until: time.optional(),
  detail: z.record(z.string(), z.union([z.string(), z.number()])),
})

export const suspectSchema = z.object({
  summary,
  notify,
  reference: z.enum(['grab', 'laboratory', 'standard', 'zero_water', 'work_record']),
  analyzer: z.string().optional(),
  point: z.string().optional(),
  laboratoryInstrument: z.string().optional(),
  sampleId: z.string().optional(),
  /** Where several bottles or points are concerned: in the same order. */
  sampleIds: z.array(z.string()).min(2).optional(),
  points: z.array(z.string()).min(2).optional(),
  standard: z.string().optional(),
  at: time,
  because: sentences,
  ask: z.string().max(300),
})

export const correctionSchema = z.object({
  /** Begin and end of the time it is for; it grows from nothing to its full size at the end. */
  from: time,
  to: time,
  /** Readings before and after at the visit, or grab samples before and after it. */
  source: z.enum(['visit', 'grabs']),
  formula: z.string().max(400),
  atLevelNtu: z.number(),
  /** To be added to a reading at that level at the end. */
  atVisitNtu: z.number(),
  ci95: interval,
  /** How good the record is once corrected. */
  rating: z.enum(RATINGS),
})

export const workVerdictSchema = z.object({
  summary,
  notify,
  analyzer: z.string(),
  point: z.string(),
  work: z.object({ at: time, action: z.enum(WORK_ACTIONS), id: z.string().optional() }),
  recommendation: z.uuid().optional(),
  pairs: z.int().min(0),
  before: estimate.optional(),
  after: estimate.optional(),
  toleranceNtu: z.number(),
  because: sentences,
  /** What would settle it; only where it is not decided. */
  missing: sentences.optional(),
  /** What the record before the work should have been. Advice: the record itself is not touched. */
  correction: correctionSchema.optional(),
})

export const shiftSummarySchema = z.object({
  summary,
  notify,
  from: time,
  to: time,
  open: z.array(
    z.object({
      recommendation: z.uuid(),
      target: targetSchema,
      urgency: z.enum(URGENCIES),
      action: z.enum(ACTIONS),
      summary,
    }),
  ),
  /** Work whose effect is not known yet, asked for or not, with what would settle it. */
  awaitingProof: z.array(z.object({ target: targetSchema, summary, missing: sentences })),
  findings: z.array(
    z.object({
      analyzer: z.string().optional(),
      point: z.string().optional(),
      finding: z.enum(FINDINGS),
      since: time,
      /** How long it has lasted. */
      hours: z.number().min(0),
      summary,
    }),
  ),
  notAssessed: z.array(z.string()),
  excluded: exclusions,
})

export const rejectedSchema = z.object({
  summary,
  notify,
  code: z.string(),
  field: z.string(),
  value: z.string(),
  rule: z.string(),
})

export const DATA_SCHEMA_BY_TYPE = {
  'recommendation.opened': recommendationSchema,
  'recommendation.revised': recommendationSchema,
  'recommendation.escalated': recommendationSchema,
  'recommendation.answered': recommendationSchema,
  'recommendation.withdrawn': recommendationSchema,
  'recommendation.closed': recommendationSchema,
  'recommendation.reopened': recommendationSchema,
  'analyzer.status': statusSchema,
  'analyzer.finding': findingSchema,
  'reference.suspect': suspectSchema,
  'work.confirmed': workVerdictSchema,
  'work.not_confirmed': workVerdictSchema,
  'work.undecided': workVerdictSchema,
  'shift.summary': shiftSummarySchema,
  'message.rejected': rejectedSchema,
} as const satisfies Record<(typeof EVENT_TYPES)[number], z.ZodType>

type DataByType = { [T in keyof typeof DATA_SCHEMA_BY_TYPE]: z.infer<(typeof DATA_SCHEMA_BY_TYPE)[T]> }
export type RecommendationData = z.infer<typeof recommendationSchema>
export type StatusData = z.infer<typeof statusSchema>
export type CriterionData = z.infer<typeof criterionSchema>
export type FindingData = z.infer<typeof findingSchema>
export type SuspectData = z.infer<typeof suspectSchema>
export type CorrectionData = z.infer<typeof correctionSchema>
export type WorkVerdictData = z.infer<typeof workVerdictSchema>
export type ShiftSummaryData = z.infer<typeof shiftSummarySchema>
export type BiasData = z.infer<typeof biasSchema>
export type EvidenceData = z.infer<typeof evidenceSchema>

/** An event as the core makes it. `type` has no prefix yet. */
export type PlantEvent = {
  [T in keyof DataByType]: {
    readonly id: string
    readonly type: T
    readonly source: string
    readonly subject: string
    readonly time: string
    readonly data: DataByType[T]
  }
}[keyof DataByType]
