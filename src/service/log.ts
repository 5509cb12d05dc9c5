import pino, { type DestinationStream, type Logger } from 'pino'
import type { ConnectionNews } from '../adapters/mqttConnection.js'

export const LOG_LEVELS = ['debug', 'info', 'warn', 'error', 'silent'] as const
export type LogLevel = (typeof LOG_LEVELS)[number]

/** Fields that an error of a library may carry a secret in, however deep. */
const SECRET_FIELDS = ['password', 'secret', 'token', 'authorization', 'Authorization'].flatMap(field =>
  ['', '*.', '*.*.', '*.*.*.'].map(depth => `${depth}${field}`),
)

/**
 * The service's log: one JSON line for each fact on standard error, a constant sentence with values as fields. Written
 * before the call returns: a buffered line is lost just when a process is killed and the line would be wanted.
 * @param guard takes secrets out of a line  @param out default: standard error
 */
export function createLog(
  level: LogLevel = 'info',
  guard: (line: string) => string = line => line,
  out: DestinationStream = pino.destination({ dest: 2, sync: true }),
): Logger {
  return pino(
    {
      level,
      base: null,
      timestamp: pino.stdTimeFunctions.isoTime,
      redact: { paths: SECRET_FIELDS, censor: '[hidden]' },
      hooks: { streamWrite: guard },
    },
    out,
  )
}

const MINUTE_MS = 60_000

/** Counts what may come in floods and logs the sum, and the last of them, at most once a minute, the first at once. */
export function sparingly<T = void>(
  now: () => number,
  log: (count: number, last: T) => void,
): (last: T, more?: number) => void {
  let count = 0
  let lastMs = Number.NEGATIVE_INFINITY
  return (last, more = 1) => {
    count += more
    const atMs = now()
    // A clock that was set back must not silence it until it has caught up.
    if (Math.abs(atMs - lastMs) < MINUTE_MS) return
    lastMs = atMs
    log(count, last)
    count = 0
  }
}

export const UNREAD = 'Messages on topics that no feed reads; give a feed the topic, or have nobody publish there'

/** Logs what a connection to a broker tells. @param who names the connection in each line */
export function tellConnection(log: Logger, who: Readonly<Record<string, string>>): (news: ConnectionNews) => void {
  return news => {
    if (news.state === 'connected') log.info({ ...who, sessionPresent: news.sessionPresent }, 'Connected to the broker')
    else if (news.state === 'disconnected') log.warn(who, 'No connection to the broker')
    else log.error({ ...who, problem: news.problem }, 'Trouble with the broker')
  }
}

/** Logs that the clock of the machine jumped. @param byMs below 0: backwards */
export function tellJump(log: Logger): (byMs: number) => void {
  return byMs => {
    if (byMs > 0) log.warn({ byMs }, 'The clock went forward or the machine slept; check that its time is right')
    else log.warn({ byMs }, 'The clock was set back; plant time waits until it has passed where it was')
  }
}
