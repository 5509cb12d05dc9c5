import { once } from 'node:events'
import { createServer } from 'node:http'
import type { AddressInfo } from 'node:net'
import { afterEach, describe, expect, it } from 'vitest'
import { InfluxProblem } from '../../../src/adapters/influx/influxProblem.js'
import { createInfluxWriter } from '../../../src/adapters/influx/influxWriter.js'
import { secretOf } from '../../../src/adapters/secret.js'
import type { SeriesPoint } from '../../../src/core/series.js'
import { type Captured, capturePosts } from './captured.js'

const AT_MS = 1_556_813_561_098

function annotation(area: string, text: string, atMs = AT_MS): SeriesPoint {
  return { measurement: 'turbidity_annotation', tags: { plant: 'p', area }, fields: { text }, atMs }
}

let server: Captured | undefined
afterEach(async () => {
  await server?.stop()
  server = undefined
})

async function written(points: readonly SeriesPoint[]): Promise<string> {
  server = await capturePosts()
  await createInfluxWriter({ url: server.url, database: 'plants' }).write(points)
  expect(server.posts.map(post => post.path)).toEqual(['/write?db=plants&precision=ms&rp='])
  return server.posts[0]!.body
}

/**
 * InfluxDB 1.8 documentation, "Line protocol tutorial", section "Special characters" (github.com/influxdata/docs-v2,
 * content/influxdb/v1.8/write_protocols/line_protocol_tutorial.md at 047ef5b): "For tag keys, tag values, and field keys
 * always use a backslash character `\` to escape: commas, equal signs, spaces"; "For string field values use a backslash
 * character `\` to escape: double quotes"; a backslash may be escaped, `too hot\\cold` is read as `too hot\cold`; "All
 * other special characters also do not require escaping".
 */
describe('line protocol', () => {
  it.each([
    ['a comma (the tutorial’s own)', 'us,midwest', 'us\\,midwest'],
    ['an equals sign', 'us=midwest', 'us\\=midwest'],
    ['a space', 'us midwest', 'us\\ midwest'],
    ['both', 'North, gallery', 'North\\,\\ gallery'],
    ['quotes, which become part of it', '"us"', '"us"'],
    ['signs beyond ASCII', 'we⛅️ther', 'we⛅️ther'],
  ])('escapes %s in a tag', async (_what, area, line) => {
    expect(await written([annotation(area, 'x')])).toBe(`turbidity_annotation,plant=p,area=${line} text="x" ${AT_MS}`)
  })

  it.each([
    ['quotes (the tutorial’s own)', 'too"hot"', '"too\\"hot\\""'],
    ['a backslash', 'too hot\\cold', '"too hot\\\\cold"'],
    ['a slash', 'too hot/cold', '"too hot/cold"'],
    ['comma, equals sign and space, which need nothing there', 'a, b = c', '"a, b = c"'],
  ])('escapes %s in a text', async (_what, text, line) => {
    expect(await written([annotation('x', text)])).toBe(`turbidity_annotation,plant=p,area=x text=${line} ${AT_MS}`)
  })

  it('writes no line break and no backslash at the end of a tag, and no empty tag: the protocol has no way to', async () => {
    expect(await written([annotation('North\ngallery\\', 'x'), annotation(' \\', 'y')])).toBe(
      `turbidity_annotation,plant=p,area=North\\ gallery text="x" ${AT_MS}\n` +
        `turbidity_annotation,plant=p text="y" ${AT_MS}`,
    )
  })

  it('writes measured values as floats, counts as integers, and the time in milliseconds', async () => {
    const fields = { medianNtu: 1, readings: 3, usable: 1, use: 'used' }
    const body = await written([{ measurement: 'turbidity_block', tags: { plant: 'p' }, fields, atMs: AT_MS }])
    expect(body).toBe(`turbidity_block,plant=p medianNtu=1,readings=3i,usable=1i,use="used" ${AT_MS}`)
  })
})

it('lets go of a server that never answers once it is closed', async () => {
  const silent = createServer(() => {}).listen(0, '127.0.0.1')
  await once(silent, 'listening')
  const { port } = silent.address() as AddressInfo
  const { write, close } = createInfluxWriter({ url: `http://127.0.0.1:${port}`, database: 'plants' })
  const asked = once(silent, 'request')
  const problem = write([annotation('x', 'y')]).catch((caught: unknown) => caught)
  await asked
  close()
  expect(await problem).toBeInstanceOf(InfluxProblem)
  silent.close()
})

describe('what the server refuses', () => {
  const points = [1, 2, 3, 4, 5].map(i => annotation('x', `text ${i}`, AT_MS + i))
  const error = (says: string) => JSON.stringify({ error: says })

  it('counts what it dropped of a batch it took otherwise, with its sentence', async () => {
    const says =
      'partial write: field type conflict: input field "v" is type float, already exists as type integer dropped=2'
    server = await capturePosts([{ status: 400, body: error(says) }])
    const { write } = createInfluxWriter({ url: server.url, database: 'plants' })
    expect(await write(points)).toEqual({ refused: 2, because: says })
    expect(server.posts).toHaveLength(1)
  })

  it('finds the one point that cannot be read by halves, so that the others arrive', async () => {
    const bad = { status: 400, body: error("unable to parse 'text 4': invalid") }
    const good = { status: 204, body: '' }
    // 5 points; 1 and 2; 3, 4 and 5; 3; 4 and 5; 4; 5.
    server = await capturePosts([bad, good, bad, good, bad, bad, good])
    const { write } = createInfluxWriter({ url: server.url, database: 'plants' })
    expect(await write(points)).toEqual({ refused: 1, because: "unable to parse 'text 4': invalid" })
    expect(server.posts.map(post => post.body.split('\n').length)).toEqual([5, 2, 3, 1, 2, 1, 1])
  })

  it.each([
    [
      '400 of something that is not InfluxDB',
      400,
      '<html>Bad Request</html>',
      /answers 400, and not as InfluxDB does: correct the url/,
    ],
    ['400 about the request', 400, error('database is required'), /answers 400 \("database is required"\)/],
    ['401', 401, error('authorization failed'), /does not let the user dashboards in: correct username or password/],
    ['403', 403, error('user not authorized'), /GRANT WRITE ON "plants" TO "dashboards"/],
    ['404', 404, error('database not found: "plants"'), /has no database plants: run CREATE DATABASE "plants"/],
    ['404 of another server', 404, 'nothing here', /correct the url/],
    ['500', 500, error('timeout'), /does not take points now \(Internal Server Error\)/],
    ['503', 503, '', /does not take points now \(Service Unavailable\)/],
  ])('takes %s as a reason to try again, and shows no login', async (_what, status, body, sentence) => {
    server = await capturePosts([{ status, body }])
    const password = secretOf('p4ss-w0rd')
    const { write, check } = createInfluxWriter({
      url: server.url,
      database: 'plants',
      username: 'dashboards',
      password,
    })
    const problem: unknown = await write(points).catch((caught: unknown) => caught)
    expect(problem).toBeInstanceOf(InfluxProblem)
    expect((problem as InfluxProblem).message).toMatch(sentence)
    const login = server.posts[0]!.login ?? ''
    expect(Buffer.from(login.slice('Basic '.length), 'base64').toString()).toBe('dashboards:p4ss-w0rd')
    const shown = JSON.stringify(problem, Object.getOwnPropertyNames(problem))
    expect(shown).not.toContain('p4ss-w0rd')
    expect(shown).not.toContain(login.slice('Basic '.length))
    // The next try goes out at once: the client does not shut the host away.
    expect(await write(points)).toEqual({ refused: 0, because: undefined })
    expect(await check()).toBeUndefined()
  })
})
