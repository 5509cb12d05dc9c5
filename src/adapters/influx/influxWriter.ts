import { Buffer } from 'node:buffer'
import { Agent as HttpAgent } from 'node:http'
import { Agent as HttpsAgent } from 'node:https'
import { InfluxDB, type IPoint } from 'influx'
import type { SeriesPoint } from '../../core/series.js'
import type { InfluxConnection } from '../connectionsFile.js'
import { INFLUX_SCHEMA, influxPoint } from './influxPoint.js'
import { answerOf, problemOf } from './influxProblem.js'

/** What became of points that were handed over: all are there but those refused for good. */
export interface WrittenPoints {
  readonly refused: number
  /** The server's sentence about those. */
  readonly because: string | undefined
}

export interface InfluxWriter {
  /**
   * Resolves when the points are in the database or refused for good. Written twice they are there once.
   * @throws InfluxProblem where it is to be tried again: none, some or all of them may be there
   */
  readonly write: (points: readonly SeriesPoint[]) => Promise<WrittenPoints>
  /** Whether points would be taken, without writing any. @returns what is wrong, in one sentence */
  readonly check: () => Promise<string | undefined>
  /** Gives up what is under way: a server that never answers must not keep the process. */
  readonly close: () => void
}

const TIMEOUT_MS = 30_000

/** The client alone would, after one answer of 500 or above, send nothing for up to ten seconds and say "No host available". */
const NEVER_DISABLED = { getDelay: () => 0, next: () => NEVER_DISABLED, reset: () => NEVER_DISABLED }

/** Writes to a database of an InfluxDB 1.x, or of a later one that speaks its API. Connects when it is asked to. */
export function createInfluxWriter(connection: InfluxConnection): InfluxWriter {
  const agent = connection.url.startsWith('https:')
    ? new HttpsAgent({ keepAlive: true })
    : new HttpAgent({ keepAlive: true })
  const client = openClient(connection, agent)
  const send = (points: IPoint[]) => client.writePoints(points, { precision: 'ms' })

  async function write(points: readonly IPoint[]): Promise<WrittenPoints> {
    try {
      await send([...points])
      return { refused: 0, because: undefined }
    } catch (error) {
      const refusal = refusalOf(error)
      if (refusal === undefined) throw problemOf(error, connection)
      if (refusal.dropped !== undefined) return { refused: refusal.dropped, because: refusal.because }
      if (points.length <= 1) return { refused: points.length, because: refusal.because }
      // One bad line among thousands: halves are tried until it stands alone, so that the others arrive.
      const middle = points.length >> 1
      const first = await write(points.slice(0, middle))
      const second = await write(points.slice(middle))
      return { refused: first.refused + second.refused, because: first.because ?? second.because }
    }
  }

  return {
    write: points => write(points.map(influxPoint)),
    check: async () => {
      try {
        // A body without points goes through login, right to write and database all the same.
        await send([])
        return undefined
      } catch (error) {
        return problemOf(error, connection).message
      }
    },
    close: () => agent.destroy(),
  }
}

function openClient({ url, database, username, password, tls }: InfluxConnection, agent: HttpAgent): InfluxDB {
  const { protocol, hostname, port, pathname } = new URL(url)
  const isEncrypted = protocol === 'https:'
  return new InfluxDB({
    protocol: isEncrypted ? 'https' : 'http',
    host: hostname,
    port: Number(port === '' ? (isEncrypted ? 443 : 80) : port),
    path: pathname.replace(/\/$/, ''),
    database,
    schema: INFLUX_SCHEMA.map(schema => ({ ...schema })),
    pool: { maxRetries: 0, requestTimeout: TIMEOUT_MS, backoff: NEVER_DISABLED },
    // Left undefined the client would log in as root.
    username: username ?? '',
    password: password?.reveal() ?? '',
    options: {
      agent,
      ...(tls?.ca === undefined ? {} : { ca: Buffer.from(tls.ca) }),
      ...(tls?.cert === undefined ? {} : { cert: tls.cert }),
      ...(tls?.key === undefined ? {} : { key: tls.key.reveal() }),
    },
  })
}

interface Refusal {
  readonly because: string
  /** How many points the server says it left out, the others being written; undefined where it took none or does not say. */
  readonly dropped: number | undefined
}

const TOO_LARGE = 413

/** Refusals that are about the points; everything else is about the way to the database and passes. */
function refusalOf(error: unknown): Refusal | undefined {
  const answer = answerOf(error)
  if (answer?.status === TOO_LARGE) return { because: answer.says ?? 'too large for the server', dropped: undefined }
  if (answer?.status !== 400 || answer.says === undefined) return undefined
  const dropped = /^partial write: [^]*dropped=(\d+)/.exec(answer.says)?.[1]
  if (dropped !== undefined && dropped !== '0') return { because: answer.says, dropped: Number(dropped) }
  return /^(partial write|unable to parse)/.test(answer.says) ? { because: answer.says, dropped: undefined } : undefined
}
