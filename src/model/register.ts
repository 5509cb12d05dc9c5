import { z } from 'zod'
import { FEED_KINDS, STANDARD_TYPES } from './messages.js'
import { nameSchema } from './names.js'
import { CRITERIA } from './publishedRules.js'
import { sparkplugFields } from './sparkplugFeed.js'
import { isTimeZone } from './timeZone.js'
import { METHODS, UNITS } from './units.js'

/**
 * The register as a person writes it (register.yaml). Keys are strict: a misspelt option is an error, not a default.
 * An analyzer inherits from its point, a point from its class; whatever nobody states has the default given here.
 */
const positive = z.number().positive().max(1e6)
const isoDate = z.iso.date()

const toleranceSchema = z.strictObject({
  absoluteNtu: positive.describe('absolute part of the tolerance, NTU'),
  relative: z.number().min(0).max(1).describe('relative part, as a fraction of the level'),
})

const grabPlanSchema = z.strictObject({
  standardUncertaintyNtu: positive
    .optional()
    .describe('random standard uncertainty of one laboratory result, NTU; default 0.01'),
  relative: z.number().min(0).max(1).optional().describe('random part proportional to the level; default 0.03'),
  sharedStandardUncertaintyNtu: z
    .number()
    .min(0)
    .max(1e4)
    .optional()
    .describe('laboratory error common to all results, NTU; default 0.01'),
  timeUncertaintyS: z
    .number()
    .min(0)
    .max(86_400)
    .optional()
    .describe('standard uncertainty of the time of sampling, s; default 120'),
  perDay: z.number().positive().max(96).optional().describe('grab samples a day; default 2'),
  resolutionNtu: z
    .number()
    .min(0)
    .max(1e4)
    .optional()
    .describe('step in which the laboratory reports, NTU; default 0 (not known)'),
  correlation: z
    .partialRecord(
      z.enum(METHODS),
      z.strictObject({
        slope: positive.describe('value of our method over value of the other'),
        interceptNtu: z.number().min(-1e4).max(1e4).optional().describe('default 0'),
        relativeStandardUncertainty: z.number().min(0).max(1).optional().describe('of the relation; default 0.05'),
        basis: z.string().min(1).max(200).describe('the study it comes from'),
      }),
    )
    .optional()
    .describe(
      'by method of the laboratory (FNU, NTU, FAU): site correlation; without one such samples show change only',
    ),
})

/** What a class, a point and an analyzer may all state. */
const inheritable = {
  tolerance: toleranceSchema.optional(),
  lowIsWorse: z.boolean().optional().describe('a low reading hides bad water here; default false'),
  grab: grabPlanSchema.optional(),
}

const classSchema = z.strictObject(inheritable)

/** Loggers of rivers and reservoirs send every hour or few; rarer readings are samples. */
export const LONGEST_INTERVAL_S = 21_600

export const analyzerSchema = z.strictObject({
  unit: z.enum(UNITS),
  intervalS: z.number().positive().max(LONGEST_INTERVAL_S).optional().describe('time between readings, s; default 60'),
  rangeNtu: z.tuple([z.number(), z.number()]).optional().describe('measuring range, whole units; default 0 to 1000'),
  transportDelayS: z
    .number()
    .min(-3_600)
    .max(3_600)
    .optional()
    .describe('from the point of sampling to the flow cell, s; may be negative; default 0'),
  responseS: z.number().min(0).max(3_600).optional().describe('response time of the analyzer, s; default 0'),
  sampleLine: nameSchema.optional().describe('analyzers on one sample line are not independent'),
  serial: z.string().min(1).max(64).optional(),
  resolutionNtu: z.number().positive().max(100).optional().describe('smallest step of the signal, NTU; default 0.001'),
  minFlowLMin: z
    .number()
    .positive()
    .max(1_000)
    .optional()
    .describe('sample flow below which readings do not count, L/min; default: only a flow of 0 does not'),
  asLeftLimit: z
    .number()
    .positive()
    .max(1)
    .optional()
    .describe('greatest relative difference from the standard as left; default 0.05'),
  transmission: z
    .enum(['periodic', 'on_change'])
    .optional()
    .describe('with on_change the last value holds until the next, up to the heartbeat; default periodic'),
  deadbandNtu: z
    .number()
    .positive()
    .max(1e3)
    .optional()
    .describe('only with on_change: changes smaller than this are not sent'),
  heartbeatS: z
    .number()
    .positive()
    .max(86_400)
    .optional()
    .describe('only with on_change: longest time between two readings, s; default 3600'),
  tolerance: toleranceSchema.optional(),
})

export const pointSchema = z.strictObject({
  class: nameSchema.optional(),
  name: z.string().min(1).max(120).optional(),
  area: z.string().min(1).max(120).optional(),
  ...inheritable,
  actionLevelsNtu: z.array(positive).max(8).optional(),
  use: z
    .array(z.enum(['regulated', 'controlling']))
    .max(2)
    .optional(),
  required: z
    .strictObject({
      verificationDays: positive.optional(),
      calibrationDays: positive.optional(),
      basis: z.string().min(1).max(200),
    })
    .optional(),
  habitualDays: positive.optional(),
  criteria: z
    .array(z.enum(CRITERIA))
    .max(CRITERIA.length)
    .optional()
    .describe('published criteria the point is compared with, apart from every statistical finding; no verdict'),
  basis: z
    .string()
    .min(1)
    .max(120)
    .optional()
    .describe('rule of the site or of the authority in its own words, such as site procedure 14; quoted as it stands'),
  analyzers: z.record(nameSchema, analyzerSchema),
})

export const standardSchema = z.strictObject({
  id: z.string().min(1).max(64),
  type: z.enum(STANDARD_TYPES),
  analyzer: nameSchema.optional().describe('a secondary standard is bound to the analyzer it was assigned on'),
  assignedNtu: z.number().min(0).max(1e4),
  assignedOn: isoDate.optional(),
  expires: isoDate.optional(),
  standardUncertaintyNtu: z.number().min(0).max(1e3).optional(),
  lot: z.string().min(1).max(64).optional(),
})

const fieldPath = z.string().min(1).max(200)

/** What every feed from a broker of MQTT has. */
const brokerFeed = {
  name: nameSchema,
  url: z
    .string()
    .max(500)
    .refine(url => !/\/\/[^/]*@/.test(url), { error: 'must hold no user or password: those belong to the connections' })
    .optional()
    .describe('mqtt://host:port; default: the broker embedded in the service'),
  connection: nameSchema
    .optional()
    .describe('in place of url: name of a broker in connections.yaml, with its login and certificates'),
}

const mqttFeedSchema = z.strictObject({
  ...brokerFeed,
  type: z.literal('mqtt'),
  topic: z
    .string()
    .min(1)
    .max(500)
    .describe('filter with named segments, such as plant/{analyzer}/turbidity, or plain with + and #'),
  kinds: z.array(z.enum(FEED_KINDS)).min(1).optional().describe('kinds the feed may carry; default: readings only'),
  map: z
    .strictObject({
      fields: z
        .record(z.string(), fieldPath)
        .optional()
        .describe('message field: path in the payload, such as value: data.turbidity'),
      constants: z.record(z.string(), z.union([z.string(), z.number(), z.boolean()])).optional(),
      time: z
        .enum(['rfc3339', 'epochS', 'epochMs'])
        .optional()
        .describe('how the payload writes time; default rfc3339'),
      qualities: z
        .record(z.string(), z.enum(['good', 'uncertain', 'bad']))
        .optional()
        .describe('quality text or code: what it means'),
    })
    .optional(),
})

const sparkplugFeedSchema = z.strictObject({ ...brokerFeed, ...sparkplugFields })

export const feedSchema = z.discriminatedUnion('type', [mqttFeedSchema, sparkplugFeedSchema], {
  error: 'must be mqtt or sparkplug',
})
export type MqttFeed = z.infer<typeof mqttFeedSchema>
export type SparkplugFeed = z.infer<typeof sparkplugFeedSchema>

export const registerSchema = z.strictObject({
  plant: nameSchema,
  name: z.string().min(1).max(120).optional(),
  timeZone: z
    .string()
    .optional()
    .refine(zone => zone === undefined || isTimeZone(zone), {
      error: 'must be a time zone of the IANA database, such as Europe/London',
    })
    .describe('for laboratory times without offset, shifts and calendar days only; default UTC'),
  falseAlarmBudget: z
    .strictObject({ analyzerYearsPerFalseAlarm: z.number().min(0.1).max(1_000) })
    .optional()
    .describe('default 5: one false opening in five analyzer-years'),
  detection: z
    .strictObject({
      delta0: z.number().positive().max(1).optional().describe('bias that is normal, in tolerances; default 0.25'),
      delta1: z
        .number()
        .positive()
        .max(2)
        .optional()
        .describe('bias the chart is tuned to, in tolerances; default 0.6'),
    })
    .optional(),
  latenessS: z
    .number()
    .min(0)
    .max(900)
    .optional()
    .describe('how late a reading may come and still be on time, s; default 120'),
  shifts: z
    .array(z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, { error: 'must be a time of day such as 06:00' }))
    .min(1)
    .max(6)
    .optional(),
  zeroRule: z
    .strictObject({ zeroWaterBelowNtu: positive.optional() })
    .optional()
    .describe('below this level zero is set on zero water with the source on (common practice, no source); default 40'),
  secondaryStandardUsualNtu: z
    .tuple([positive, positive])
    .optional()
    .describe('usual assigned values; outside is a warning; default 30 to 40'),
  settling: z
    .strictObject({
      capHours: z
        .number()
        .positive()
        .max(72)
        .optional()
        .describe('after this, "did not settle" is a finding; default 6'),
      maintenanceHours: z
        .number()
        .positive()
        .max(168)
        .optional()
        .describe('after this a maintenance flag counts as forgotten; default 8'),
    })
    .optional(),
  visitMinutes: positive.max(1_440).optional().describe('minutes a visit to an analyzer takes in the plan; default 60'),
  classes: z.record(nameSchema, classSchema).optional(),
  points: z
    .record(nameSchema, pointSchema)
    .refine(points => Object.keys(points).length > 0, { error: 'must name at least one point' }),
  related: z
    .array(z.strictObject({ downstream: nameSchema, upstream: z.array(nameSchema).min(1) }))
    .max(1_000)
    .optional(),
  standards: z.array(standardSchema).max(10_000).optional(),
  feeds: z.array(feedSchema).max(100).optional(),
})

export type RegisterFile = z.infer<typeof registerSchema>
