import { once } from 'node:events'
import { createServer, type IncomingMessage, request } from 'node:http'
import { afterEach, describe, expect, it } from 'vitest'
import { createMetrics, type Metrics, type PlantView } from '../../src/service/metrics.js'
import { parseMetricsAddress, startMetricsServer, wantsOpenMetrics } from '../../src/service/metricsServer.js'

const closers: (() => Promise<void>)[] = []
afterEach(async () => {
  for (const close of closers.splice(0)) await close()
})

const view: PlantView = {
  lagS: 42,
  analyzers: 12,
  assessed: 11,
  feeds: { gateway: 'connected', scada: 'disconnected', laboratory: 'catching_up' },
  sinks: [
    { sink: 'mqtt', waiting: 7, setAside: 3, parked: true },
    { sink: 'ndjson:"events".ndjson', waiting: 0, setAside: 0, parked: false },
  ],
  points: { waiting: 31, dropped: 1, refused: 2 },
}

/** Everything the service counts, once. */
function filled(): Metrics {
  const metrics = createMetrics()
  metrics.watch('hollin-weir', () => view)
  metrics.taken('hollin-weir', 'gateway', 500)
  metrics.refused('hollin-weir', 'gateway', 'no_birth')
  metrics.repeated('hollin-weir', 'gateway', 2)
  metrics.gaps('hollin-weir', 'gateway', { missingReadings: 60, sequenceGaps: 1 })
  metrics.died('hollin-weir', 'gateway')
  metrics.batchWritten('hollin-weir', 0.002)
  metrics.batchWritten('hollin-weir', 4)
  metrics.unread()
  return metrics
}

const OPEN = 'application/openmetrics-text; version=1.0.0; charset=utf-8'
const TEXT = 'text/plain; version=0.0.4; charset=utf-8'
/** What Prometheus 2 and 3 send, by their documentation of scrape protocols. */
const PROMETHEUS = `application/openmetrics-text;version=1.0.0;escaping=allow-utf-8;q=0.5,application/openmetrics-text;version=0.0.1;q=0.4,text/plain;version=0.0.4;q=0.3,*/*;q=0.2`

describe('metrics over HTTP', () => {
  it('are plain text, as every scraper reads it', async () => {
    const { get } = await serve(filled())
    const { status, type, body } = await get('/metrics')
    expect([status, type]).toEqual([200, TEXT])
    const values = samplesOf(body)
    expect(values.get('turbidrift_messages_taken_total{plant="hollin-weir",feed="gateway"}')).toBe(500)
    expect(values.get('turbidrift_messages_refused_total{plant="hollin-weir",feed="gateway",reason="no_birth"}')).toBe(
      1,
    )
    expect(values.get('turbidrift_messages_repeated_total{plant="hollin-weir",feed="gateway"}')).toBe(2)
    expect(values.get('turbidrift_readings_missing_total{plant="hollin-weir",feed="gateway"}')).toBe(60)
    expect(values.get('turbidrift_sequence_gaps_total{plant="hollin-weir",feed="gateway"}')).toBe(1)
    expect(values.get('turbidrift_sparkplug_deaths_total{plant="hollin-weir",feed="gateway"}')).toBe(1)
    expect(values.get('turbidrift_messages_unread_total')).toBe(1)
    expect(values.get('turbidrift_events_waiting{plant="hollin-weir",sink="mqtt"}')).toBe(7)
    expect(values.get('turbidrift_events_waiting{plant="hollin-weir",sink="ndjson:\\"events\\".ndjson"}')).toBe(0)
    expect(values.get('turbidrift_events_set_aside_total{plant="hollin-weir",sink="mqtt"}')).toBe(3)
    expect(values.get('turbidrift_points_waiting{plant="hollin-weir"}')).toBe(31)
    expect(values.get('turbidrift_points_lost_total{plant="hollin-weir",reason="dropped"}')).toBe(1)
    expect(values.get('turbidrift_points_lost_total{plant="hollin-weir",reason="refused"}')).toBe(2)
    expect(values.get('turbidrift_events_parked{plant="hollin-weir",sink="mqtt"}')).toBe(1)
    expect(values.get('turbidrift_time_lag_seconds{plant="hollin-weir"}')).toBe(42)
    expect(values.get('turbidrift_analyzers{plant="hollin-weir"}')).toBe(12)
    expect(values.get('turbidrift_analyzers_assessed{plant="hollin-weir"}')).toBe(11)
    const feeds = ['gateway', 'scada', 'laboratory'].map(feed =>
      values.get(`turbidrift_broker_connected{plant="hollin-weir",feed="${feed}"}`),
    )
    expect(feeds).toEqual([1, 0, 1])
    expect(values.get('turbidrift_batch_write_seconds_count{plant="hollin-weir"}')).toBe(2)
    expect(values.get('turbidrift_batch_write_seconds_sum{plant="hollin-weir"}')).toBe(4.002)
    // Cumulative, and the last equal to the count: OpenMetrics 1.0, "Histogram".
    expect(values.get('turbidrift_batch_write_seconds_bucket{le="0.003",plant="hollin-weir"}')).toBe(1)
    expect(values.get('turbidrift_batch_write_seconds_bucket{le="+Inf",plant="hollin-weir"}')).toBe(2)
  })

  it('are OpenMetrics where that is asked for, with the same values, whoever else asks meanwhile', async () => {
    const { get } = await serve(filled())
    const answers = await Promise.all(
      Array.from({ length: 12 }, (_, i) => get('/metrics', i % 2 === 0 ? { accept: PROMETHEUS } : {})),
    )
    for (const [i, { type, body }] of answers.entries()) {
      expect(type).toBe(i % 2 === 0 ? OPEN : TEXT)
      expect(body.endsWith('\n')).toBe(true)
      expect(body.endsWith('# EOF\n')).toBe(i % 2 === 0)
      expect(samplesOf(body)).toEqual(samplesOf(answers[0]!.body))
      // The name of the family has no _total in OpenMetrics 1.0 ("Counter"), and has it in the older text.
      expect(body).toContain(`# TYPE turbidrift_messages_taken${i % 2 === 0 ? '' : '_total'} counter`)
    }
  })

  it('have names by the rules of prometheus.io', async () => {
    // https://prometheus.io/docs/practices/naming and OpenMetrics 1.0, "Overall Structure" and "Suffixes".
    const body = await filled().expose('text/plain; version=0.0.4; charset=utf-8')
    const families = [...body.matchAll(/^# TYPE (\S+) (\S+)$/gm)].map(([, name, kind]) => ({
      name: name!,
      kind: kind!,
    }))
    expect(families).toHaveLength(17)
    for (const { name, kind } of families) {
      expect(name).toMatch(/^turbidrift(_[a-z]+)+$/)
      // What only grows ends with _total, and nothing else does.
      expect(name.endsWith('_total')).toBe(kind === 'counter')
      // Base units in the plural; no other unit in a name, and no suffix that means something else.
      expect(name).not.toMatch(
        /_(ms|milliseconds|minutes|hours|kb|mb|percent|second|byte|count|sum|bucket|created)(_|$)/,
      )
      expect(/_seconds(_total)?$/.test(name)).toBe(/time|lag|write/.test(name))
      expect(body).toContain(`# HELP ${name} `)
    }
    for (const [, labels] of body.matchAll(/^\w+\{(.*)\} /gm)) {
      for (const [, label] of labels!.matchAll(/(\w+)="(?:[^"\\]|\\.)*"/g)) {
        expect(['plant', 'feed', 'sink', 'reason', 'le']).toContain(label)
        // A label is not told again in the name.
        for (const { name } of families) expect(name.split('_')).not.toContain(label)
      }
    }
  })

  it('tell nothing of a plant that is no longer watched, and keep what was counted', async () => {
    const metrics = createMetrics()
    const end = metrics.watch('hollin-weir', () => view)
    metrics.taken('hollin-weir', 'gateway', 1)
    end()
    const values = samplesOf(await metrics.expose('text/plain; version=0.0.4; charset=utf-8'))
    expect([...values.keys()].filter(key => key.includes('plant='))).toEqual([
      'turbidrift_messages_taken_total{plant="hollin-weir",feed="gateway"}',
    ])
  })

  it('are all that is served, and can be read only', async () => {
    const { get } = await serve(createMetrics())
    expect((await get('/')).status).toBe(404)
    expect((await get('/metrics/x')).status).toBe(404)
    expect((await get('/metrics?x=1')).status).toBe(200)
    const refused = await get('/metrics', {}, 'POST')
    expect([refused.status, refused.allow]).toEqual([405, 'GET, HEAD'])
    const head = await get('/metrics', {}, 'HEAD')
    expect([head.status, head.body, head.type]).toEqual([200, '', TEXT])
  })

  it('say so where they cannot be read, and can be read again', async () => {
    const metrics = createMetrics()
    const end = metrics.watch('hollin-weir', () => {
      throw new Error('the store is closed')
    })
    const { get } = await serve(metrics)
    expect((await get('/metrics')).status).toBe(503)
    end()
    expect((await get('/metrics')).status).toBe(200)
  })

  it('name the address that is taken', async () => {
    const other = createServer().listen(0, '127.0.0.1')
    await once(other, 'listening')
    closers.push(async () => {
      other.close()
      await once(other, 'close')
    })
    const { port } = other.address() as { port: number }
    const started = await startMetricsServer({ host: '127.0.0.1', port }, createMetrics())
    expect(started).toMatchObject({
      ok: false,
      problem: expect.stringContaining(`127.0.0.1:${String(port)}`) as string,
    })
  })
})

describe('what a scraper asks for', () => {
  it.each([
    ['', false],
    ['*/*', false],
    ['text/plain', false],
    ['application/json', false],
    ['application/openmetrics-text', true],
    ['application/openmetrics-text; version=1.0.0', true],
    ['application/openmetrics-text; version=0.0.1', false],
    ['application/openmetrics-text; q=0', false],
    ['application/openmetrics-text; q=0.4, text/plain; q=0.5', false],
    ['application/openmetrics-text; q=0.5, text/plain; q=0.5', true],
    [PROMETHEUS, true],
  ])('%j is OpenMetrics: %s', (accept, expected) => {
    expect(wantsOpenMetrics(accept)).toBe(expected)
  })

  it.each<[string, object | undefined]>([
    ['9464', { host: '127.0.0.1', port: 9464 }],
    ['0.0.0.0:9464', { host: '0.0.0.0', port: 9464 }],
    ['localhost:0', { host: 'localhost', port: 0 }],
    ['[::1]:9464', { host: '::1', port: 9464 }],
    ['9464:9464:1', undefined],
    ['host', undefined],
    ['host:', undefined],
    ['host:99999', undefined],
  ])('%s is an address: %j', (text, expected) => {
    expect(parseMetricsAddress(text)).toEqual(expected)
  })
})

async function serve(metrics: Metrics) {
  const started = await startMetricsServer({ host: '127.0.0.1', port: 0 }, metrics)
  if (!started.ok) throw new Error(started.problem)
  const { port, close } = started.server
  closers.push(close)
  const get = async (path: string, headers: Record<string, string> = {}, method = 'GET') => {
    const sent = request({ host: '127.0.0.1', port, path, method, headers }).end()
    const [answer] = (await once(sent, 'response')) as [IncomingMessage]
    let body = ''
    for await (const chunk of answer.setEncoding('utf8')) body += String(chunk)
    return { status: answer.statusCode, type: answer.headers['content-type'], allow: answer.headers.allow, body }
  }
  return { get }
}

/** Values by name and labels; every line must be one of the three kinds there are. */
function samplesOf(body: string): Map<string, number> {
  const samples = new Map<string, number>()
  for (const line of body.split('\n')) {
    if (line === '' || line === '# EOF' || /^# (HELP|TYPE) [a-zA-Z_:][a-zA-Z0-9_:]* \S/.test(line)) continue
    const parts = /^([a-zA-Z_:][a-zA-Z0-9_:]*(?:\{[^{}]*\})?) (\S+)$/.exec(line)
    if (parts === null) throw new Error(`no sample: ${line}`)
    samples.set(parts[1]!, Number(parts[2]))
  }
  return samples
}
