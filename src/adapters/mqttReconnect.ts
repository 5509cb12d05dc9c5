import type { MqttClient } from 'mqtt'

const FIRST_MS = 1_000
const LAST_MS = 60_000
/** A connection that held so long was a good one: the next loss begins with the shortest wait again. */
const GOOD_MS = 30_000

/**
 * Milliseconds before the next attempt: doubled with each failure up to a minute, of which a random half is left out,
 * so that a thousand clients of a broker that comes back do not all knock at once.
 * @param failures attempts that failed since the last good connection  @param random from 0 to 1
 */
export function reconnectMs(failures: number, random: number): number {
  const longest = Math.min(LAST_MS, FIRST_MS * 2 ** Math.min(failures, 10))
  return Math.round((longest / 2) * (1 + random))
}

/** Varies the fixed `reconnectPeriod` of `mqtt`, which is read when a connection closes: it is set just before. */
export function reconnectWithJitter(client: MqttClient, now = () => performance.now(), random = Math.random): void {
  let failures = 0
  let connectedMs: number | undefined
  client.on('connect', () => {
    connectedMs = now()
  })
  client.prependListener('close', () => {
    if (connectedMs !== undefined && now() - connectedMs >= GOOD_MS) failures = 0
    connectedMs = undefined
    client.options.reconnectPeriod = reconnectMs(failures++, random())
  })
}
