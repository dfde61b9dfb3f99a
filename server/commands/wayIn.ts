import { networkAddresses } from '../http/addresses.ts';
import { waitsForOwner } from '../people/afterRestore.ts';
import { recordAction } from '../people/audit.ts';
import { endSecondStep } from '../people/doorQueries.ts';
import { PASSPHRASE_LINK_HOURS, passphraseLink } from '../people/invitations.ts';
import { listPeople, personByName } from '../people/queries.ts';
import { openStudio, run, say } from './opening.ts';

// npm run way-in -- NAME: for who has lost everything. Who may run commands on the studio's computer may let people in. The server may run.
run('way-in', async (config, words) => {
  const deps = await openStudio(config);
  try {
    const { db } = deps;
    const name = words.join(' ').trim();
    const owners = listPeople(db).filter((p) => p.role === 'owner' && p.active === 1);
    if (name === '')
      throw new Error(`Say for whom: npm run way-in -- NAME. Owners are ${owners.map((p) => p.name).join(', ')}.`);
    if (waitsForOwner(db))
      throw new Error(
        'This studio was restored from a backup. An owner comes in with the code that the server prints at its start.',
      );
    const person = personByName(db, name);
    if (!person) throw new Error(`Nobody here is called ${name}. Owners are ${owners.map((p) => p.name).join(', ')}.`);
    const by = { personId: person.id, name: person.name, role: person.role };
    const token = passphraseLink(deps, person.id, by);
    endSecondStep(db, person.id);
    recordAction(deps, {
      personId: person.id,
      door: 'command',
      action: 'way-in',
      path: '',
      status: 200,
      address: '',
      detail: 'from the terminal',
    });
    say(
      `The second step of ${person.name} has ended. With one of these links they choose a new passphrase, once, within ${PASSPHRASE_LINK_HOURS} hours:`,
    );
    for (const address of networkAddresses(config, config.port)) say(`  ${address}/invitation/${token}`);
    return 0;
  } finally {
    deps.sqlite.close();
  }
});
