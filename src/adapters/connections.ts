import { z } from 'zod'
import { FEED_KINDS } from '../model/messages.js'
import { EVENT_TYPES } from '../model/vocabulary.js'
import { nameSchema } from '../model/names.js'
import { secretSchema } from './secret.js'

/**
 * connections.yaml: where the service connects to, apart from the register because the register says what the plant
 * is, is recorded with the data and may be shown to anybody. Keys are strict; a secret is named by its place only.
 */
const pathSchema = z.string().min(1).max(1_000)

const tlsSchema = z
  .strictObject({
    ca: pathSchema.optional().describe('PEM file of the authority that signed the server; default: those Node trusts'),
    cert: pathSchema.optional().describe('PEM file of our own certificate, where the server asks for one'),
    key: pathSchema.optional().describe('PEM file of the key of that certificate'),
  })
  .refine(tls => (tls.cert === undefined) === (tls.key === undefined), {
    error: 'must have cert and key together',
  })

/**
 * A URL of one of some schemes, without user and password: those are secrets. What follows a question mark is one as
 * often as not; only a webhook may need it.
 */
function urlSchema(schemes: readonly string[], query: 'no query' | 'query') {
  const without = query === 'query' ? 'user and password' : 'user, password and query'
  const rule = `must be a URL that begins with ${schemes.map(scheme => `${scheme}://`).join(' or ')}, without ${without}`
  return z
    .string()
    .max(500)
    .refine(text => isUrl(text, schemes) && (query === 'query' || !/[?#]/.test(text)), { error: rule })
}

function isUrl(text: string, schemes: readonly string[]): boolean {
  if (!URL.canParse(text)) return false
  const { protocol, hostname, username, password } = new URL(text)
  return schemes.includes(protocol.slice(0, -1)) && hostname !== '' && username === '' && password === ''
}

const login = {
  username: z.string().min(1).max(200).optional(),
  password: secretSchema.optional(),
}

const mqttSchema = z.strictObject({
  url: urlSchema(['mqtt', 'mqtts'], 'no query'),
  ...login,
  tls: tlsSchema.optional(),
  version: z
    .union([z.literal(5), z.literal('3.1.1')], { error: 'must be 5 or 3.1.1' })
    .optional()
    .describe('default: 5, and 3.1.1 where the broker refuses that'),
  sessionHours: z
    .number()
    .min(1)
    .max(8_760)
    .optional()
    .describe('how long the broker keeps what waits for us while we are away; default 168'),
  publishEvents: z.boolean().optional().describe('publish events and status here; default false'),
})

const kafkaSchema = z.strictObject({
  brokers: z
    .array(z.string().regex(/^[^\s:/]+:\d{1,5}$/, { error: 'must be host:port' }))
    .min(1)
    .max(50),
  clientId: nameSchema.optional().describe('default turbidrift'),
  group: nameSchema.optional().describe('consumer group of all members; default turbidrift'),
  sessionS: z
    .number()
    .int()
    .min(1)
    .max(1_800)
    .optional()
    .describe('a member not heard of for so long has lost its plants to the others; default 30'),
  sasl: z
    .strictObject({
      mechanism: z.enum(['plain', 'scram-sha-256', 'scram-sha-512']),
      username: z.string().min(1).max(200),
      password: secretSchema,
    })
    .optional(),
  tls: tlsSchema.optional().describe('{} for the authorities Node trusts; absent for a connection in the clear'),
  topics: z
    .strictObject({
      in: nameSchema.optional().describe('messages, key = plant; default turbidrift.in'),
      events: nameSchema.optional().describe('default turbidrift.events'),
      changelog: nameSchema.optional().describe('compacted; default turbidrift.changelog'),
      deadLetters: nameSchema.optional().describe('default turbidrift.dead-letters'),
      rekeyed: nameSchema.optional().describe('used with keys: rekey only; default turbidrift.in.rekeyed'),
    })
    .optional(),
  kinds: z.array(z.enum(FEED_KINDS)).min(1).optional().describe('kinds the input may carry; default: readings only'),
  keys: z
    .enum(['refuse', 'rekey'])
    .optional()
    .describe('records whose key is not their plant: to the dead letters, or through an own topic; default refuse'),
})

const influxSchema = z.strictObject({
  url: urlSchema(['http', 'https'], 'no query'),
  database: nameSchema,
  ...login,
  tls: tlsSchema.optional(),
})

const webhookSchema = z.strictObject({
  url: urlSchema(['https', 'http'], 'query'),
  secrets: z
    .array(secretSchema)
    .min(1)
    .max(3)
    .describe('signing keys, whsec_ and base64; several while a key is being changed, the newest first'),
  types: z.array(z.enum(EVENT_TYPES)).min(1).optional().describe('types of events handed over; default: all'),
  allowPrivateAddresses: z
    .boolean()
    .optional()
    .describe('hand over to loopback and private addresses, and in the clear; default false'),
  tls: tlsSchema.optional(),
})

const outboxSchema = z.strictObject({
  parkAfterHours: z.number().min(0.01).max(8_760).optional().describe('default 168'),
  parkAfterEvents: z.number().int().min(1).max(10_000_000).optional().describe('default 100 000'),
})

export const connectionsSchema = z.strictObject({
  mqtt: z.record(nameSchema, mqttSchema).optional().describe('brokers; feeds of a register name them by connection'),
  kafka: kafkaSchema.optional(),
  influx: influxSchema.optional(),
  webhooks: z.record(nameSchema, webhookSchema).optional(),
  outbox: outboxSchema
    .optional()
    .describe(
      'when a sink is parked: it took nothing for so long, or for ten minutes with more than so many events waiting',
    ),
})

export type ConnectionsFile = z.infer<typeof connectionsSchema>
