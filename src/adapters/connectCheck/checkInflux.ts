import type { InfluxConnection } from '../connectionsFile.js'
import { createInfluxWriter } from '../influx/influxWriter.js'
import { type ConnectFinding, findingsOf } from './finding.js'

/** Tries login, database and the right to write, with a write of no points. */
export async function checkInflux(connection: InfluxConnection): Promise<readonly ConnectFinding[]> {
  const { found, ok, wrong } = findingsOf('influx')
  const { database, username } = connection
  const writer = createInfluxWriter(connection)
  const problem = await writer.check()
  writer.close()
  if (problem !== undefined) wrong(problem)
  else ok(`points can be written to the database ${database}${username === undefined ? '' : ` as ${username}`}`)
  return found
}
