import type { GuideGroup } from './section.ts';

export const STUDIO: GuideGroup = {
  title: 'The studio and its data',
  sections: [
    {
      slug: 'settings',
      title: 'Settings',
      lead: 'What the studio has decided: currency, units, scales, rates, tokens.',
      screens: ['/settings', '/settings/tokens'],
      parts: [
        {
          heading: 'Scales',
          text: [
            'Enter each scale with what it [Reads to]. Weigh-ups are rounded to the one you choose. Choose the one that really stands at the bench: a plan rounded to 0.01 g is no use on a kitchen scale.',
          ],
        },
        {
          heading: 'Weighing',
          text: [
            '[Weighing tolerance] is how far a reading may be off before the bench asks what to do. [Rounding error that calls for stock solution] sets the mass under which a plan proposes a solution. Lower them, and you are asked more often.',
          ],
        },
        {
          heading: 'Rates',
          text: [
            '[Labour rate] is what an hour of hands costs you, with on-costs. [Overhead rate] is rent, power and water of a normal year divided by its labour hours. Lots that are finished keep the rates that they had.',
          ],
        },
        {
          heading: 'What the record is held against',
          text: [
            '[The record] shows how many entries there are, and the seal of the newest. Each is sealed with the one before: whoever has written down number and seal, on the last page of a month’s paper say, can tell later whether anything up to it was changed.',
          ],
        },
        {
          heading: 'Other devices and tokens',
          text: [
            'Point a phone’s camera at a code under [Open on another device]. Under [API tokens], a token lets a script in, in your name; it is shown once. Choose [read] unless the script records something.',
          ],
        },
      ],
      also: ['people', 'trust', 'scripts'],
    },
    {
      slug: 'people',
      title: 'People and devices',
      lead: 'Who may come in, what each may do, and who did what.',
      screens: [
        '/people',
        '/people/:id',
        '/audit',
        '/account',
        '/account/second-step',
        '/sign-in',
        '/second-step',
        '/invitation/:token',
        '/bench-device',
      ],
      sends: ['/sign-out'],
      parts: [
        {
          heading: 'Roles',
          text: [
            'The owner may do everything, the people and the backups too. A dyer plans, logs, and changes library and stock. A viewer looks. A bench device may log what happens at the bench, and look; it can change nothing else.',
          ],
        },
        {
          heading: 'Invite somebody',
          text: [
            '[Make the link] gives an address that works once, within three days. The person chooses name and passphrase; you never see it. Give each person a name of their own: the log tells who weighed what.',
          ],
        },
        {
          heading: 'A tablet at the bench',
          text: [
            '[Add it] names the device; sign it in with a code from your screen. No passphrase is typed where others look on.',
          ],
        },
        {
          heading: 'Somebody leaves, a device is lost',
          text: [
            'On the person’s page, end the sign-in of one device with [Sign it out]. Under [Let in no more] every sign-in, link and token of theirs ends at once. Their name stays on what they did.',
            'Signing out removes the copies of bench pages from a device. What was not sent yet stays on it, for whoever made it.',
          ],
        },
        {
          heading: 'Who did what',
          text: [
            '[Who did what] lists every change and every sign-in, as it was answered, and every download of a backup or of everything. Nobody can edit or erase it. Work at the bench stands in the log of its lot.',
            'Refused tries of strangers are written down at the 1st, 2nd, 4th, 8th of an hour, with how many there were: nobody can fill it up.',
          ],
        },
        {
          heading: 'A second step',
          text: [
            'Under your name, [Second step] lets your phone be asked as well when you sign in: by a passkey where the studio is open over https and under a name ([Secure connection]), by six digits from an app elsewhere. Neither needs mail or a network outside.',
            'With the first of them you get ten codes on paper. Each works once, when the phone is lost; new ones make the old paper worthless. Keep it away from the phone.',
            'An owner can ask it of all owners under [Owners need a second step].',
          ],
        },
        {
          heading: 'Passphrase or phone lost',
          text: [
            'Passphrase: an owner makes a link on your page with [Make a passphrase link]. Phone: a code on paper. Phone and paper: an owner ends your second step on your page. The only owner runs `npm run way-in -- NAME` on the studio’s computer, which ends the second step and prints a link for a new passphrase.',
            'When a passphrase changes you say whether your API tokens [end] or [go on].',
          ],
        },
        {
          heading: 'Too many wrong tries',
          text: [
            'After six wrong tries a name is closed for a quarter of an hour to devices on which it was never let in. A device that was let in before has six tries of its own, so that nobody outside shuts you out.',
          ],
        },
      ],
      also: ['settings'],
    },
    {
      slug: 'backup',
      title: 'Backup',
      lead: 'One archive holds everything. Put it on another disk, and try once to come back from it.',
      screens: ['/settings/backup', '/after-restore', '/people/after-restore'],
      sends: ['/settings/backups', '/settings/backup/passphrase'],
      parts: [
        {
          heading: 'Every day',
          text: [
            'Tick [Make a backup every day] and choose the hour. It works while people work. Today warns when the last good one is too old.',
            'A backup counts once the studio in it was found sound. One that is marked [not good] is kept, but takes no good one’s place. Each week the newest is restored for trial, into a folder that is thrown away; Today says when that fails.',
            'Set `BACKUP_DIR` to a folder on another disk. A backup on the same disk is lost together with the studio.',
          ],
        },
        {
          heading: 'Keep the key on paper',
          text: [
            'Under [Seal and passphrase], [Show the key] shows what every archive is sealed with. Write it down and keep it away from the computer: on another one, a restore asks for it, and tells by it that nobody has changed the archive.',
            'With a passphrase, new archives can be read by nobody who has only the archive. Keep it with the key: without it you cannot read them either. The format is open: `age -d -o studio.zip FILE` opens one without the service.',
          ],
        },
        {
          heading: 'A second site',
          text: [
            'Litestream, a program for that and nothing else, replicates the database as it is written, to a disk, a server or a bucket elsewhere. Any file synchroniser takes photos and recordings after it. A backup is still wanted: what is deleted here is soon deleted there.',
            'Set `REPLICA_DIR` to the replica’s folder where it can be seen from this computer. Today then says when it falls ten minutes behind, and this page how far it is.',
            'Tried with both at work each second: a machine that was killed lost at most about a second of entries that had been acknowledged. Pictures that the synchroniser had not yet taken are missing, and `npm run verify` names them.',
          ],
          steps: [
            'Write `/etc/litestream.yml`: under `dbs:` an entry `- path: /var/lib/lot-and-shade/studio.sqlite`, with `replicas:` and under it `- type: file`, `path: /mnt/other-site/database`, `sync-interval: 1s`. Instead of a folder it takes `sftp`, `s3` and others.',
            'Run `litestream replicate -config /etc/litestream.yml` as a service, as the user `studio`.',
            'Every minute: `rsync -a /var/lib/lot-and-shade/photos /var/lib/lot-and-shade/voices /mnt/other-site/`.',
            'To come back, in an empty data folder: `litestream restore -o studio.sqlite file:///mnt/other-site/database`, with `photos` and `voices` beside it; then `npm run verify`, and start. Unlike after `npm run restore`, every sign-in and token still holds.',
          ],
        },
        {
          heading: 'Come back from one',
          text: [
            'The archive is checked whole before anything is touched, and the studio that is there is kept beside it. Every passphrase, sign-in, link, code and token of that time ends, so that nobody comes in who has left since.',
          ],
          steps: [
            'Stop the server.',
            'Run `npm run restore -- FILE`; on another computer with `--key KEY`, for an encrypted archive with `--passphrase-file FILE`. Without a key it asks you to say in words that you know who made it (`--unproven` where there is nobody to ask).',
            'Run `npm run verify`: it holds the studio against everything that must be true.',
            'Start the server. Its terminal shows a code: with it an owner comes in and chooses a new passphrase.',
            'Go through whose standing differs, then let the others in again, each by a link or a code of their own.',
            'Look at a lot that you know.',
          ],
        },
        {
          heading: 'What goes wrong',
          text: [
            'When every page says [Nothing can be saved any more.], the database is damaged, or was deleted or replaced. Write on paper, and let whoever looks after the computer stop the server and put back the file or a backup.',
            'An archive that nobody has ever restored is a hope. Do it once a year, into another folder (`DATA_DIR`), on another computer if you have one.',
          ],
        },
      ],
      also: ['imports', 'today'],
    },
    {
      slug: 'imports',
      title: 'Import and export',
      lead: 'Arrive with your spreadsheet, and leave with everything whenever you like.',
      screens: ['/imports', '/imports/drafts/:draftId', '/imports/:id', '/settings/export'],
      parts: [
        {
          heading: 'Bring a file',
          text: [
            'CSV or XLSX, one row a thing, names of the columns in the first row. Best in this order: fibres, dyes and auxiliaries, then stock and swatches.',
          ],
          steps: [
            'Say what it holds, choose the file, and press [Read it].',
            'Look at which column is what. The columns were guessed; put right what was guessed wrongly and press [Look again].',
            'Read the rows that cannot be imported, and why. Mend the file or leave them out.',
            'Import. It is all or nothing.',
          ],
        },
        {
          heading: 'Take it back',
          text: [
            'What came with a file can be taken back as long as nothing stands on it. So import, look, and take it back if it is not what you meant, before you dye by it.',
          ],
        },
        {
          heading: 'Goods before dyeing',
          text: [
            'A row of swatches without dyes (depth 0 %, or “undyed” for a formula) with its L*a*b* or spectrum tells the colour of the goods. Predictions on these goods begin there.',
          ],
        },
        {
          heading: 'Leave',
          text: [
            '[Download everything] gives one zip: a CSV for each table with its columns described, the same as JSON, all photos and recordings, and files that [Import] reads again. No passphrases and no tokens are in it.',
          ],
        },
      ],
      also: ['first-day', 'scripts'],
    },
    {
      slug: 'trust',
      title: 'Secure connection',
      lead: 'What https adds in a dye room, and how a phone comes to trust the studio’s computer.',
      screens: ['/trust'],
      parts: [
        {
          heading: 'What it adds',
          text: [
            'Browsers let a page open without network, use the microphone and keep the screen awake only over a connection that they trust. The bench works without it, as long as its page stays open.',
          ],
        },
        {
          heading: 'Switch it on',
          text: [
            'Start the service with `TLS=studio npm start`. It makes a certificate of its own and renews it when the computer’s addresses change. Then open this screen on each phone and follow it, once for each device. Old http addresses, on printed labels too, lead to https.',
          ],
        },
        {
          heading: 'Before you trust it',
          text: [
            'Compare the fingerprint on the phone with the one in the terminal. The studio’s authority can vouch only for private networks, local names and this computer. Its key lies in the data folder under `tls`: guard that folder.',
          ],
        },
      ],
      also: ['bench', 'settings'],
    },
    {
      slug: 'scripts',
      title: 'For scripts',
      lead: 'Everything that the screens do can be done over the JSON API, by the same rules.',
      screens: [],
      parts: [
        {
          heading: 'Where it is described',
          text: [
            '`/api/v1/openapi.json` describes every address, body and answer. Client generators read it. All addresses begin with `/api/v1`.',
          ],
        },
        {
          heading: 'Let a script in',
          text: [
            'Make a token under [API tokens] in Settings and send it in the header of every request: `Authorization: Bearer ls_…`. A token that may read can also use the calculators. It acts in your name, and ends when you revoke it or leave.',
          ],
        },
        {
          heading: 'Units and times',
          text: [
            'Quantities are integers in the smallest unit: mg, µL, ppm (1 % is 10 000 ppm), money in minor units. Times are milliseconds since 1970 in UTC. Days are written `2026-03-16`.',
          ],
        },
        {
          heading: 'Sent twice, recorded once',
          text: [
            'Entries of the bench and of the ledger take a `clientId` that the script makes up. Send the same entry again after a lost answer: the first answer comes back, and nothing is recorded twice. Another content under a used id is refused.',
            'Every other POST that creates something takes an `Idempotency-Key` in its header, for a day: the same request sent again gets the same answer.',
          ],
        },
        {
          heading: 'Refusals',
          text: [
            'A refusal is a problem document (RFC 9457) with a `code`, a sentence in `detail`, and the fields that it is about. Nothing was saved. A reading that is hard to believe, and a way out whose figures no longer hold, come back as questions: look before you send `confirmed`.',
          ],
        },
        {
          heading: 'Calculators',
          text: [
            '`GET /api/v1/calc` lists every calculation with its inputs, units and sources; `POST /api/v1/calc/NAME` works one out. They read nothing of the studio and change nothing, so they need no token.',
          ],
        },
        {
          heading: 'Files',
          text: [
            'Exports stream: `/api/v1/exports/lots.csv` for any range of days, `/api/v1/exports/saved/1.xlsx` for a saved one. Send swatches with formulas, spectra too, to `POST /api/v1/imports/swatches`. Photos and recordings are sent as forms with a file.',
          ],
        },
      ],
      also: ['settings', 'exports', 'imports'],
    },
  ],
};
