import { describe, expect, it } from 'vitest'
import { type Connections, parseConnections } from '../../src/adapters/connectionsFile.js'
import { feedClashes } from '../../src/service/feedClashes.js'
import { resolveFeeds } from '../../src/service/feeds.js'
import type { RegisterFile } from '../../src/model/register.js'

type Feeds = NonNullable<RegisterFile['feeds']>

const CONNECTIONS = connections(`mqtt:
  site: { url: "mqtt://broker.example", publishEvents: true }
  again: { url: "mqtt://BROKER.example:1883" }
  quiet: { url: "mqtt://quiet.example" }
  here: { url: "mqtt://localhost:1900" }`)

describe('feeds of all plants of a process', () => {
  it('may read topics of their own, each from any broker', () => {
    expect(
      clashes({
        north: [feed('a', 'north/#', 'site'), feed('b', 'north/#', 'quiet'), feed('c', '#', 'here')],
        south: [feed('a', 'south/#', 'site'), feed('b', 'south/{analyzer}', undefined)],
      }),
    ).toEqual([])
  })

  it('must not match what is published for any of the plants on the same broker', () => {
    expect(clashes({ north: [feed('all', 'turbidrift/+/status/#', 'site')], south: [] })).toEqual([
      'feed all of north (turbidrift/+/status/#) can match turbidrift/north/#, where the service publishes the events of north on the same broker: it would read its own events; give the feed a topic that cannot match there',
      'feed all of north (turbidrift/+/status/#) can match turbidrift/south/#, where the service publishes the events of south on the same broker: it would read its own events; give the feed a topic that cannot match there',
    ])
    // Two names of one broker, and what the embedded one publishes for a plant that reads elsewhere.
    expect(clashes({ north: [feed('all', '#', 'again')] })).toHaveLength(1)
    expect(
      clashes({ north: [feed('in', 'turbidrift/south/#', undefined)], south: [feed('a', 'x', 'quiet')] }),
    ).toHaveLength(1)
    expect(clashes({ north: [feed('in', '#', 'here')] }, 1900)).toHaveLength(1)
  })

  it('must not take a message twice, nor for two plants', () => {
    expect(clashes({ north: [feed('a', 'site/#', 'quiet')], south: [feed('b', '+/{analyzer}', 'quiet')] })).toEqual([
      'feed a of north (site/#) and feed b of south (+/{analyzer}) can match the same topic on quiet.example:1883: a message there would be taken twice; give each a topic of its own',
    ])
    expect(clashes({ north: [feed('a', 'x', undefined)], south: [feed('b', 'x', undefined)] }, 0).join()).toContain(
      'can match the same topic on the embedded broker',
    )
    expect(clashes({ north: [feed('a', 'x/#', 'site'), feed('b', 'x/y', 'again')] })).toHaveLength(1)
    expect(clashes({ north: [feed('a', 'x/#', undefined), feed('b', 'x/y', undefined)] }, 0)).toEqual([])
  })

  it('must be declared where there are several plants, and name a broker that there is', () => {
    const settings = { connections: CONNECTIONS, defaultKinds: ['reading' as const] }
    expect(resolveFeeds(plant('in', undefined), { ...settings, alone: true })).toMatchObject({ ok: true })
    const several = resolveFeeds(plant('in', undefined), { ...settings, alone: false })
    expect(!several.ok && several.problems).toEqual([
      'the register of in must declare its feeds where several plants are served: nothing in a message on turbidrift/in/# says whose it is',
    ])
    const unknown = resolveFeeds(plant('north', [feed('a', 'x', 'west')]), { ...settings, alone: true })
    expect(!unknown.ok && unknown.problems).toEqual([
      'feed a of north: connection west must be one of the brokers in the connections: site, again, quiet, here',
    ])
  })
})

function clashes(plants: Readonly<Record<string, Feeds>>, embeddedPort = 1883): string[] {
  const resolved = Object.entries(plants).map(([name, feeds]) => {
    const settings = { connections: CONNECTIONS, defaultKinds: ['reading' as const], alone: false }
    const read = resolveFeeds(plant(name, feeds), settings)
    if (!read.ok) throw new Error(read.problems.join())
    return { plant: name, feeds: read.feeds }
  })
  return feedClashes(resolved, CONNECTIONS, embeddedPort)
}

function plant(name: string, feeds: Feeds | undefined): RegisterFile {
  return {
    plant: name,
    points: { P: { analyzers: { A: { unit: 'NTU' } } } },
    ...(feeds === undefined ? {} : { feeds }),
  }
}

function feed(name: string, topic: string, connection: string | undefined): Feeds[number] {
  return { name, type: 'mqtt', topic, ...(connection === undefined ? {} : { connection }) }
}

function connections(text: string): Connections {
  const read = parseConnections(text, { name: 'connections.yaml', folder: '.', environment: {} })
  if (!read.ok) throw new Error(read.problems.join())
  return read.connections
}
