import type { InfluxConnection } from '../connectionsFile.js'
import { httpTarget } from '../httpTarget.js'
import { sayConnectionError } from '../sayConnectionError.js'

/** Why nothing was written, in one sentence with the next step: it is tried again. Holds no login, as the client's errors do. */
export class InfluxProblem extends Error {
  override readonly name = 'InfluxProblem'
}

/** What the server answered, or undefined where no answer came. */
export interface InfluxAnswer {
  readonly status: number
  /** The server's own sentence; undefined where something else than InfluxDB seems to have answered. */
  readonly says: string | undefined
}

/** Reads the answer out of an error of the client, whose request and headers must not be kept. */
export function answerOf(error: unknown): InfluxAnswer | undefined {
  const { res, message } = error as { res?: { statusCode?: unknown }; message?: unknown }
  if (typeof res?.statusCode !== 'number') return undefined
  const body = /error occurred: ([^]*)$/.exec(String(message))?.[1] ?? ''
  return { status: res.statusCode, says: sentenceIn(body) }
}

const LONGEST_SENTENCE = 500

function sentenceIn(body: string): string | undefined {
  try {
    const { error } = JSON.parse(body) as { error?: unknown }
    return typeof error === 'string' ? error.slice(0, LONGEST_SENTENCE) : undefined
  } catch {
    return undefined
  }
}

/** What is wrong, for an error of the client that says nothing against the points themselves. */
export function problemOf(error: unknown, connection: InfluxConnection): InfluxProblem {
  const target = httpTarget(connection.url)
  const at = `InfluxDB at ${target.host}:${target.port}`
  const answer = answerOf(error)
  if (answer !== undefined) return new InfluxProblem(sayAnswer(answer, at, connection))
  const said = sayConnectionError(error, target, { withTls: 'https://', without: 'http://' })
  if (said !== undefined) return new InfluxProblem(said)
  const message = error instanceof Error ? error.message : String(error)
  return new InfluxProblem(
    message === TIMED_OUT
      ? `${at} did not answer in time: look at its load and its log`
      : `${at} does not take points now (${message}): look at its log`,
  )
}

/** What the client calls a request without an answer. */
const TIMED_OUT = 'Request timed out'

function sayAnswer({ status, says }: InfluxAnswer, at: string, { database, username }: InfluxConnection): string {
  const quoted = says === undefined ? '' : ` ("${says}")`
  switch (status) {
    case 401:
      return username === undefined
        ? `${at} lets nobody in without user and password: state username and password`
        : `${at} does not let the user ${username} in: correct username or password`
    case 403:
      return `${at} does not let ${username === undefined ? 'clients without user' : `the user ${username}`} write to the database ${database}: run GRANT WRITE ON "${database}" TO "${username ?? 'USER'}" there`
    case 404:
      return says === undefined
        ? `${at} does not know the path of points: correct the url, there may be another server`
        : `${at} has no database ${database}: run CREATE DATABASE "${database}" there, or correct the name${quoted}`
    default:
      return says === undefined
        ? `${at} answers ${status}, and not as InfluxDB does: correct the url, and begin it with https:// if it speaks TLS there`
        : `${at} answers ${status}${quoted}: look at its log`
  }
}
