import { z } from 'zod'

/** How a feed from a broker stands: `catching_up` still delivers what waited for the service. */
export const FEED_STATES = ['connected', 'catching_up', 'disconnected'] as const
export type FeedState = (typeof FEED_STATES)[number]

const count = z.int().min(0)

/**
 * How the service itself stands, retained beside its events: a dashboard that subscribes sees at once whether what it
 * shows is kept up to date. No event: it is renewed every minute, recorded nowhere, and never repeated by a replay.
 */
export const serviceStatusSchema = z.discriminatedUnion('state', [
  z.object({
    state: z.literal('online'),
    plant: z.string().min(1),
    softwareVersion: z.string(),
    time: z.iso.datetime().describe('when this was said'),
    since: z.iso.datetime().describe('start of the service'),
    plantTime: z.iso
      .datetime()
      .optional()
      .describe('up to then everything is worked through; missing for the first minute after a start'),
    lagS: z.number().min(0).optional().describe('clock of the machine less plantTime; up to 60 is usual'),
    eventsWaiting: count.describe('events that some receiver does not have yet; of the receiver that has most to come'),
    analyzers: count.describe('analyzers in the register'),
    assessed: count.describe('those among them whose readings something is known about'),
    feeds: z.record(z.string(), z.enum(FEED_STATES)).describe('feeds read from brokers of the plant'),
  }),
  z.object({
    state: z.literal('offline'),
    plant: z.string().min(1),
    softwareVersion: z.string(),
    because: z
      .enum(['ended', 'lost'])
      .describe('ended: told to end, in order; lost: said by the broker, as the service was gone without a word'),
    time: z.iso.datetime().optional().describe('when it ended; nobody knows it of a service that was lost'),
  }),
])

export type ServiceStatus = z.infer<typeof serviceStatusSchema>
