import { topicsOut } from '../adapters/mqttTopics.js'
import type { StatusSource } from '../adapters/mqttStatus.js'
import type { StoreBatch } from '../adapters/sqliteStore.js'
import { canonicalJson } from '../model/canonicalJson.js'
import type { RegisterFile } from '../model/register.js'
import type { FeedState, ServiceStatus } from '../model/serviceStatus.js'
import { formatInstant, MINUTE_MS, parseInstant, SECOND_MS } from '../model/time.js'
import { CLOCK_FEED } from './plantRunner.js'

export interface ServiceStatusOptions {
  readonly file: RegisterFile
  readonly softwareVersion: string
  /** Newest status event of each analyzer that the store has. */
  readonly statuses: readonly { readonly subject: string; readonly body: string }[]
  readonly feeds: (atMs: number) => Readonly<Record<string, FeedState>>
  readonly eventsWaiting: () => number
  readonly now: () => number
  readonly schedule: (afterMs: number, run: () => void) => () => void
}

export type OnlineStatus = Extract<ServiceStatus, { readonly state: 'online' }>

export interface ServiceStatusKeeper {
  readonly current: () => OnlineStatus
  /** What the connections that publish events carry besides. */
  readonly source: StatusSource
  /** Takes plant time and assessments out of what was just written. */
  readonly written: (batch: Pick<StoreBatch, 'journal' | 'events'>) => void
  /** Something else than time may have changed, such as a feed. */
  readonly changed: () => void
  readonly stop: () => void
}

/** Changes of a moment, as at a start, are told together. */
const TOGETHER_MS = SECOND_MS
const STATUS_TYPE = 'analyzer.status'

/** Keeps how the service stands with one plant, and tells it once a minute and soon after each change. */
export function keepServiceStatus(options: ServiceStatusOptions): ServiceStatusKeeper {
  const { file, softwareVersion, now, schedule } = options
  const common = { plant: file.plant, softwareVersion }
  const since = formatInstant(now())
  const subjects = new Set(
    Object.entries(file.points).flatMap(([point, { analyzers }]) => Object.keys(analyzers).map(id => `${point}/${id}`)),
  )
  const assessed = new Set<string>()
  const followers = new Set<(body: string) => void>()
  let plantTime: string | undefined
  let cancelMinute = schedule(MINUTE_MS, minute)
  let cancelSoon: (() => void) | undefined
  let told = ''
  let isStopped = false
  for (const status of options.statuses) take(status)

  return {
    current: online,
    source: {
      topic: `${topicsOut(file.plant)}service`,
      lost: text({ ...common, state: 'offline', because: 'lost' }),
      now: () => text(online()),
      ended: () => text({ ...common, state: 'offline', because: 'ended', time: formatInstant(now()) }),
      follow: tell => {
        followers.add(tell)
        return () => followers.delete(tell)
      },
    },
    written: ({ journal, events }) => {
      plantTime = newestTick(journal) ?? plantTime
      for (const event of events) if (event.type === STATUS_TYPE) take(event)
      changed()
    },
    changed,
    stop: () => {
      isStopped = true
      cancelMinute()
      cancelSoon?.()
    },
  }

  function take({ subject, body }: { readonly subject: string; readonly body: string }): void {
    if (!subjects.has(subject)) return
    const { data } = JSON.parse(body) as { data: { assessment: string } }
    if (data.assessment === 'not_assessed') assessed.delete(subject)
    else assessed.add(subject)
  }

  function online(): OnlineStatus {
    const atMs = now()
    return {
      ...common,
      state: 'online',
      time: formatInstant(atMs),
      since,
      ...(plantTime === undefined
        ? {}
        : { plantTime, lagS: Math.max(0, Math.round((atMs - parseInstant(plantTime)!) / SECOND_MS)) }),
      eventsWaiting: options.eventsWaiting(),
      analyzers: subjects.size,
      assessed: assessed.size,
      feeds: options.feeds(atMs),
    }
  }

  /** What is worth telling before the minute is over. */
  function lasting(): string {
    return canonicalJson([assessed.size, options.feeds(now())])
  }

  function changed(): void {
    if (isStopped || cancelSoon !== undefined || lasting() === told) return
    cancelSoon = schedule(TOGETHER_MS, tell)
  }

  function tell(): void {
    cancelSoon?.()
    cancelSoon = undefined
    told = lasting()
    const body = text(online())
    for (const follow of followers) follow(body)
  }

  function minute(): void {
    tell()
    cancelMinute = schedule(MINUTE_MS, minute)
  }
}

function text(status: ServiceStatus): string {
  return canonicalJson(status)
}

/** How canonical text of an input from the clock begins: its members are in order of their names. */
const TICK_BEGINS = `{"feed":"${CLOCK_FEED}",`

function newestTick(journal: StoreBatch['journal']): string | undefined {
  const row = journal.findLast(({ input }) => input.startsWith(TICK_BEGINS))
  return row === undefined ? undefined : (JSON.parse(row.input) as { message: { time: string } }).message.time
}
